#pragma once
// Samples of one channel: times in seconds from the segment's own zero, values beside them.

#include <algorithm>
#include <cstddef>
#include <span>
#include <vector>

namespace ebbtide::trace {

/// A view of samples, oldest first; times do not decrease; all numbers finite. Does not own them.
struct Samples {
    std::span<const double> time_s;
    std::span<const double> value;

    [[nodiscard]] std::size_t size() const { return time_s.size(); }
    [[nodiscard]] bool empty() const { return time_s.empty(); }

    /// Index of the first sample at or after `t_s`; size() when there is none.
    [[nodiscard]] std::size_t at_or_after(double t_s) const {
        return static_cast<std::size_t>(std::ranges::lower_bound(time_s, t_s) - time_s.begin());
    }
    [[nodiscard]] Samples slice(std::size_t first, std::size_t last) const {
        return {time_s.subspan(first, last - first), value.subspan(first, last - first)};
    }
    /// Samples with from_s <= time < to_s.
    [[nodiscard]] Samples between(double from_s, double to_s) const {
        const std::size_t first = at_or_after(from_s);
        return slice(first, std::max(first, at_or_after(to_s)));
    }
};

/// The median interval between neighbouring samples, in seconds; where a coarse clock gives most of them the
/// time of their neighbour, the mean interval. 0 for fewer than two samples.
[[nodiscard]] inline double typical_interval_s(const Samples& samples) {
    if (samples.size() < 2) return 0;
    std::vector<double> steps(samples.size() - 1);
    for (std::size_t i = 0; i < steps.size(); ++i) steps[i] = samples.time_s[i + 1] - samples.time_s[i];
    std::ranges::nth_element(steps, steps.begin() + static_cast<std::ptrdiff_t>(steps.size() / 2));
    const double median_s = steps[steps.size() / 2];
    const double length_s = samples.time_s.back() - samples.time_s.front();
    return median_s > 0 ? median_s : length_s / static_cast<double>(steps.size());
}

/// Samples that own their numbers.
struct SampleStore {
    std::vector<double> time_s;
    std::vector<double> value;
    [[nodiscard]] Samples view() const { return {time_s, value}; }
};

}  // namespace ebbtide::trace
