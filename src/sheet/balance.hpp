#pragma once
// What changes the charge on sheets, as a step through time asks for it: up to four sheets side by side,
// which take little longer than one.

#include <Eigen/Dense>
#include <span>

#include "sheet/forward.hpp"

namespace ebbtide::sheet {

inline constexpr Eigen::Index most_side_by_side = 4;

/// A figure for each of the sheets.
using Each = Eigen::Array<double, Eigen::Dynamic, 1, 0, most_side_by_side, 1>;

/// Where sheets stand, or what changes them a second. `own_V` are the potentials of their pieces without the
/// clamps' part, those of one piece of all sheets side by side; as a rate of change, the charges of the
/// pieces stand in their place (C/m).
struct State {
    Eigen::VectorXd own_V;
    Eigen::MatrixXd absorbed_V;  ///< [piece, term]: the voltage that a term's capacitance has taken
    Each through_C_m;            ///< out of the sheet through the clamps
    Each leaked_C_m;

    void add(double factor, const State& other);
    /// Becomes `start`, or nothing, and up to six others, so many times each, in one pass. It, `start` and
    /// others are of one size; it may be `start`.
    void combine(const State* start, std::span<const double> factors, const State* others);
    /// The largest potential over what is allowed to each sheet; not finite when one is not.
    [[nodiscard]] double largest_over(const Each& allowed_V) const;
    [[nodiscard]] static State empty(Eigen::Index sheets, Eigen::Index pieces, Eigen::Index terms);
};

class Balance {
  public:
    virtual ~Balance() = default;

    [[nodiscard]] virtual State empty() const = 0;
    virtual void rates(const State& at, const Each& clamp_V, State& out) = 0;
    /// The same; and what follows holds here.
    virtual void linearise(const State& at, const Each& clamp_V, State& out) = 0;
    /// What so many volts a second more on the clamps add to the rates, a second.
    virtual void rates_by_clamp(const Each& slope_V_s, State& out) const = 0;
    /// At least of the order of the fastest rate.
    [[nodiscard]] virtual double fastest_per_s() const = 0;
    /// Of R_s's dependence on the field, at its strongest with so many volts on the clamps: the exponent.
    [[nodiscard]] virtual double strongest_exponent(double /*clamp_V*/) const { return 0; }
    /// Makes ready `solve` for (z - J) x = r. False when it cannot.
    [[nodiscard]] virtual bool factor(double z) = 0;
    /// Takes the rates r to x, whose own_V are potentials.
    virtual void solve(State& r) const = 0;

    /// Rates from potentials: charges in place of own_V.
    virtual void charges(const State& potentials, State& out) const = 0;
    /// Nothing changes any more: held for long at this voltage. Not finite when it is not found.
    [[nodiscard]] virtual State steady(const Each& clamp_V) const = 0;
    /// Adds a time to the course of each sheet.
    virtual void note(const State& at, const Each& clamp_V, bool profiles, std::span<Course> out) const = 0;
};

}  // namespace ebbtide::sheet
