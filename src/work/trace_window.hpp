#pragma once
// A window over many samples, thinned to what a plot can show without losing an extreme.

#include <cstdint>
#include <utility>
#include <vector>

#include "trace/samples.hpp"

namespace ebbtide::work {

/// Lowest and highest value of any stretch, found without looking at every sample: extremes of blocks of 64
/// samples, of 64 such blocks, and so on. Memory: an eighth of a byte a sample.
class Extremes {
  public:
    Extremes() = default;
    /// Values are finite. The same values must be given to of().
    explicit Extremes(std::span<const double> value);

    /// Indices of the first lowest and the first highest value of [first, last), which is not empty.
    [[nodiscard]] std::pair<std::size_t, std::size_t> of(std::span<const double> value, std::size_t first,
                                                         std::size_t last) const;

  private:
    struct Pair {
        std::uint32_t lowest = 0, highest = 0;
    };
    std::vector<std::vector<Pair>> tiers_;  // finest first
};

struct TraceWindow {
    std::vector<double> time_s, value;
    std::size_t in_window = 0;  ///< samples that lie in it
    bool thinned = false;       ///< false: these are the samples themselves
};

/// The window [from_s, to_s], both ends included, as `columns` stretches of equal time, each with its lowest
/// and its highest sample at their own times, in the order of their times. No more than two samples a column:
/// all of them. Expects 1 column or more.
[[nodiscard]] TraceWindow trace_window(const trace::Samples& samples, const Extremes& extremes, double from_s,
                                       double to_s, std::size_t columns);

}  // namespace ebbtide::work
