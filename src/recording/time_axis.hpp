#pragma once
// The time of one column as it comes, line by line: seconds, and whether it leaps, stands still or starts
// again.

#include <cstdint>
#include <optional>

#include "basis/instant.hpp"
#include "recording/channels.hpp"
#include "recording/clock_time.hpp"

namespace ebbtide::recording {

/// Follows one TimeAxis. Deciding and accepting are two steps, so that a line can be looked at twice.
class AxisFollower {
  public:
    explicit AxisFollower(const TimeAxis& axis) : axis_(axis) {}

    [[nodiscard]] const TimeAxis& axis() const { return axis_; }
    [[nodiscard]] bool started() const { return started_; }
    [[nodiscard]] double last_s() const { return last_s_; }

    /// Seconds of a number of the column, or of a sample's index.
    [[nodiscard]] double seconds(double number) const { return number * axis_.factor_s; }
    /// Seconds since the first clock time of the recording; a time of day without date that falls by more
    /// than half a day has passed midnight.
    [[nodiscard]] double seconds(const ClockTime& clock);
    /// Absolute time of time zero, when the clock stated date and zone.
    [[nodiscard]] std::optional<Instant> origin() const;

    enum class Step { onward, gap, same, backwards, restart };
    [[nodiscard]] Step step_to(double time_s) const {
        if (!started_) return Step::onward;
        const double step_s = time_s - last_s_;
        if (step_s > 0) return step_s > gap_factor * usual_step_s_ && usual_known_ ? Step::gap : Step::onward;
        if (step_s == 0) return Step::same;
        return time_s <= first_s_ + restart_share * (last_s_ - first_s_) + 2 * usual_step_s_
                   ? Step::restart
                   : Step::backwards;
    }
    void accept(double time_s) {
        const double step_s = time_s - last_s_;
        last_s_ = time_s;
        if (!started_) {
            first_s_ = time_s;
            started_ = true;
        } else if (step_s > 0) {
            // A running mean of steps; a leap counts as no more than the largest step that is none.
            const double counted_s =
                usual_known_ && step_s > gap_factor * usual_step_s_ ? gap_factor * usual_step_s_ : step_s;
            usual_step_s_ += (counted_s - usual_step_s_) * (usual_known_ ? 1.0 / 16 : 1.0);
            usual_known_ = true;
        }
    }
    void start_segment() { started_ = usual_known_ = false; }

  private:
    static constexpr double gap_factor = 5;
    static constexpr double restart_share = 0.05;  // so near its beginning time has started again

    TimeAxis axis_;
    bool started_ = false, usual_known_ = false;
    double first_s_ = 0, last_s_ = 0, usual_step_s_ = 0;
    std::optional<ClockTime> clock_zero_, clock_last_;
    std::int64_t midnights_ = 0;
};

}  // namespace ebbtide::recording
