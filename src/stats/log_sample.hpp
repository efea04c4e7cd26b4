#pragma once
// The likelihood of times whose logarithms follow a law of location and scale, with its slopes.
//
// In rate = 1/sigma and shift = mu/sigma the standardised value z = rate * ln t - shift is linear, and for
// both families here the log-likelihood is concave, whatever the censoring (J. Burridge, J. R. Stat. Soc. B
// 43 (1981) 41): it has one largest value at most, and Newton's steps find it from anywhere.

#include <span>
#include <vector>

#include "stats/censored.hpp"

namespace ebbtide::stats {

/// lognormal: ln t is normal; weibull: ln t follows the law of the smallest extreme value.
enum class Family { lognormal, weibull };

/// Where the standardised law reaches `probability`: Phi^-1(p), or ln(-ln(1 - p)).
[[nodiscard]] double standard_quantile(Family family, double probability);
/// What lies above z: 1 - Phi(z), or exp(-e^z).
[[nodiscard]] double standard_above(Family family, double z);

/// The log-likelihood at a rate and a shift, its slopes and curvatures.
struct LogLikelihood {
    double value = 0;
    double by_rate = 0, by_shift = 0;
    double rate_rate = 0, rate_shift = 0, shift_shift = 0;
};

/// The logarithms of a sample, centred and scaled to their spread, so that rate is near 1 and shift near 0.
class LogSample {
  public:
    /// `sample` passes check().
    LogSample(std::span<const Observation> sample, Family family);

    /// Of the times themselves (not of their logarithms). rate > 0.
    [[nodiscard]] LogLikelihood at(double rate, double shift) const;

    /// Whether one single time would agree with every observation: then a spread of nothing explains them,
    /// and the likelihood has no largest value.
    [[nodiscard]] bool one_time_explains_all() const { return lowest_upper_ >= highest_lower_; }
    [[nodiscard]] Family family() const { return family_; }
    [[nodiscard]] double centre() const { return centre_; }  ///< mean of the logarithms
    [[nodiscard]] double scale() const { return scale_; }    ///< their standard deviation; 1 where that is 0

  private:
    struct Exact {
        double x, count;
    };
    struct Censored {
        Known known;
        double x, upper, count;
    };
    template <class Law>
    [[nodiscard]] LogLikelihood sum(double rate, double shift) const;

    Family family_;
    double centre_ = 0, scale_ = 1;
    double highest_lower_, lowest_upper_;
    double exact_ = 0, exact_sum_ = 0, exact_squares_ = 0;  ///< number, sum and sum of squares of those
    double constant_ = 0;                                   ///< what the change from logarithms to times adds
    std::vector<Exact> values_;
    std::vector<Censored> bounds_;
};

}  // namespace ebbtide::stats
