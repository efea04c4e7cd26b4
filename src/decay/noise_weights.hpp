#pragma once
// How the noise of single samples moves a result that rests on several stretches of them.

#include <algorithm>
#include <span>
#include <vector>

#include "decay/noise.hpp"
#include "trace/samples.hpp"

namespace ebbtide::decay {

/// Samples of a run with the factor by which their noise moves a result. Stretches that share samples are
/// taken together where they meet.
class NoiseWeights {
  public:
    explicit NoiseWeights(const trace::Samples& specimen)
        : time_s_(specimen.time_s), weight_(specimen.size(), 0.0) {}

    void add(std::size_t first, std::span<const double> weights, double factor) {
        for (std::size_t i = 0; i < weights.size(); ++i) weight_[first + i] += factor * weights[i];
        if (weights.empty()) return;
        from_ = std::min(from_, first);
        to_ = std::max(to_, first + weights.size());
    }
    [[nodiscard]] double u(const NoiseModel& noise) const {
        if (to_ <= from_) return 0;
        return noise.of_weighted_sum(time_s_.subspan(from_, to_ - from_),
                                     std::span(weight_).subspan(from_, to_ - from_));
    }

  private:
    std::span<const double> time_s_;
    std::vector<double> weight_;
    std::size_t from_ = static_cast<std::size_t>(-1), to_ = 0;
};

}  // namespace ebbtide::decay
