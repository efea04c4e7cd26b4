#include "recording/time_axis.hpp"

namespace ebbtide::recording {

double AxisFollower::seconds(const ClockTime& clock) {
    constexpr double day_s = 86'400;
    if (!clock_zero_) clock_zero_ = clock_last_ = clock;
    if (clock.day && clock_zero_->day) {
        clock_last_ = clock;
        return static_cast<double>(*clock.day - *clock_zero_->day) * day_s -
               60.0 * (clock.zone_minutes.value_or(0) - clock_zero_->zone_minutes.value_or(0)) +
               (clock.second_of_day - clock_zero_->second_of_day);
    }
    if (clock.second_of_day < clock_last_->second_of_day - day_s / 2) ++midnights_;
    clock_last_ = clock;
    return static_cast<double>(midnights_) * day_s + (clock.second_of_day - clock_zero_->second_of_day);
}

std::optional<Instant> AxisFollower::origin() const {
    if (!clock_zero_ || !clock_zero_->day || !clock_zero_->has_time || !clock_zero_->zone_minutes)
        return std::nullopt;
    constexpr std::int64_t second_ns = 1'000'000'000;
    const std::int64_t whole_s = *clock_zero_->day * 86'400 - *clock_zero_->zone_minutes * 60;
    return Instant{whole_s * second_ns} + Span::from_seconds(clock_zero_->second_of_day);
}

}  // namespace ebbtide::recording
