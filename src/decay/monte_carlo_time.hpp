#pragma once
// The budget of a decay time carried through by drawing instead of by slopes (JCGM 101:2008).

#include <cstddef>
#include <cstdint>
#include <optional>
#include <span>
#include <string_view>
#include <vector>

#include "decay/budget.hpp"

namespace ebbtide::decay {

/// The fall around a crossing: the time at which it passes a level that lies so many volts beside the one
/// asked for. Offsets ascend, times descend; both are empty where nothing is known of it.
struct LocalFall {
    std::vector<double> offset_V;
    std::vector<double> time_s;
};

/// The budget's line for the bend of the fall about a crossing that noise has moved. The fall itself bends:
/// where it is known that line is not drawn, or the bend would count twice.
inline constexpr std::string_view second_order_line = "second order of the noise";

/// What came of it.
struct MonteCarloTime {
    double mean_s = 0;
    double u_s = 0;
    double low_s = 0, high_s = 0;  ///< 95 %, probabilistically symmetric (JCGM 101:2008, 7.7)
    std::size_t trials = 0;
    bool stable = false;  ///< mean, u and both ends are stable to two digits of u (7.9); else trials ran out
    bool agrees = true;   ///< with the first-order interval, to the tolerance of clause 8 at one digit of u
    double beyond = 0;    ///< share of trials whose level lies beyond the known part of the fall
};

/// Draws every contribution: normal, or Student's scaled and shifted where its degrees of freedom are finite
/// (6.4.9.2), correlated where it says so. Those in volts move the level and so the time along `fall`, which
/// bends; all others move the time by their sensitivity. Where the fall is not known, all do. `decay_s` is
/// the first-order value and `expanded_u_s` half its 95 % interval; ends within a twentieth of that agree in
/// any case. The same seed gives the same numbers, in whatever order the contributions stand.
///
/// Beyond its known part the fall goes on as straight as it ended: where `beyond` is over 2.5 %, an end of
/// the interval is no more than a bound. Student's distribution has no variance up to two degrees of freedom,
/// and up to four that of its draws never settles: with a line below five, `mean_s` is the median and `u_s`
/// half the interval over 1.96. Below one degree a line is drawn with one.
[[nodiscard]] MonteCarloTime monte_carlo_time(double decay_s, double expanded_u_s,
                                              std::span<const Contribution> budget, const LocalFall& fall,
                                              std::uint64_t seed);

}  // namespace ebbtide::decay
