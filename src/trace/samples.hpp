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

/// Samples that own their numbers.
struct SampleStore {
    std::vector<double> time_s;
    std::vector<double> value;
    [[nodiscard]] Samples view() const { return {time_s, value}; }
};

}  // namespace ebbtide::trace
