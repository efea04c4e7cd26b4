#pragma once
// Sheets followed step by step: any field dependence, any absorption, any map.

#include <array>
#include <span>
#include <vector>

#include "sheet/balance.hpp"
#include "sheet/clamp_voltage.hpp"

namespace ebbtide::sheet {

/// Sheets on their way through one phase after another, step by step. Starts at rest in no phase: enter() is
/// the first to be called.
class Walk {
  public:
    using Phases = std::span<const std::array<Phase, 2>>;

    /// `phases` of each sheet, looked at where they stand. A step may add so much error to a potential.
    Walk(Balance& balance, Phases phases, State start, const Each& allowed_V);

    /// Times count from here.
    void enter(std::size_t phase);
    /// One step, no farther than `end_s` into the phase. False when none is small enough.
    [[nodiscard]] bool step(double end_s);
    /// Between the ends of the last step: a cubic.
    [[nodiscard]] State inside(double t) const;
    /// Takes back what the last step went beyond t; to be followed by enter().
    void go_back(double t) { at_ = inside(t); }
    void count_from_here();

    [[nodiscard]] Each clamp_V(double t) const;
    [[nodiscard]] const State& at() const { return at_; }
    [[nodiscard]] const State& rate() const { return rate_; }
    [[nodiscard]] double begun_s() const { return begun_s_; }  ///< where the last step began
    [[nodiscard]] double time_s() const { return time_s_; }
    [[nodiscard]] std::size_t steps() const { return steps_; }

  private:
    static constexpr std::size_t stages = 6;

    template <class Of>
    [[nodiscard]] Each over_sheets(Of of) const;
    void look();
    [[nodiscard]] double attempt(double h);

    Balance& balance_;
    Phases phases_;
    Each allowed_V_;
    std::size_t phase_ = 0;
    State at_, before_;
    double time_s_ = 0, begun_s_ = 0, next_s_ = 0;
    bool clamps_move_ = false;
    std::size_t steps_ = 0;
    State k_[stages];
    State trial_, rate_, by_clamp_, sum_, charges_;
};

/// The courses of the sheets of a balance, each with the phases of its own clamps, whose charging begins and
/// ends with the others'. All take the same steps, the smallest that any of them needs. Times as `simulate`
/// takes them. Internal: steps that find no size small enough.
[[nodiscard]] Result<std::vector<Course>> follow(Balance& balance,
                                                 std::span<const std::array<Phase, 2>> phases,
                                                 std::span<const double> times_s, const Options& options);

}  // namespace ebbtide::sheet
