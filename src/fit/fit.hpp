#pragma once
// Fitting a law to points: separable least squares from starts that the program finds itself.

#include <Eigen/Core>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "fit/curve.hpp"
#include "fit/descent.hpp"
#include "fit/lag_noise.hpp"
#include "fit/law.hpp"
#include "fit/parameter.hpp"

namespace ebbtide::fit {

struct Spread {
    Scatter scatter;
    LagNoise noise = {};  ///< for stated_noise, units of y and x
};

struct Fit {
    Outcome outcome = Outcome::not_run;
    std::string reason;                 ///< in words, when the outcome is not `converged`
    std::vector<Parameter> parameters;  ///< amplitudes in the law's order, then shape parameters
    Eigen::MatrixXd covariance;  ///< of the values, same order; zero rows for what has no standard error
    bool told_apart = true;      ///< false: some parameters say the same (`merged` names them)
    std::string merged;
    double rss = 0;  ///< sum of ((y - law) / sigma)^2, or of (y - law)^2 without sigma
    std::size_t points = 0;
    double degrees_of_freedom =
        0;  ///< points, or effective ones where they are correlated, less free parameters
    double effective_points = 0;  ///< independent points that would carry as much; `points` when independent
    std::optional<LagNoise> noise;  ///< estimated (of residual / sigma) or stated
    int valleys = 0;                ///< of the sum of squares that were descended
    int evaluations = 0;            ///< passes over all points

    [[nodiscard]] bool ok() const { return outcome == Outcome::converged; }
    /// Converged, and the points say what each parameter is that was not held.
    [[nodiscard]] bool determined() const;
    /// The parameter of that name, or nothing.
    [[nodiscard]] const Parameter* find(std::string_view name) const;
    [[nodiscard]] std::vector<double> amplitudes(const Law& law) const;
    [[nodiscard]] std::vector<double> shape(const Law& law) const;
};

/// The best of all valleys found. `held` pins shape parameters by position (empty: none), units of the
/// caller. Never throws for what the points are; the outcome says what was wrong. Repeats bit for bit.
[[nodiscard]] Fit fit(const Law& law, const Curve& curve, const Spread& spread,
                      const std::vector<std::optional<double>>& held = {});

/// The bottom of the valley that holds `start` (shape parameters, units of the caller), without any search.
[[nodiscard]] Fit fit_from(const Law& law, const Curve& curve, const Spread& spread,
                           const std::vector<double>& start,
                           const std::vector<std::optional<double>>& held = {});

struct Interval {
    double low = 0, high = 0;
};

/// By Student's t with the fit's degrees of freedom; shape parameters on their log scale, so never below
/// zero. Nothing for a parameter without a standard error. confidence in (0, 1).
[[nodiscard]] std::optional<Interval> interval_of(const Fit& fit, const Law& law, std::size_t parameter,
                                                  double confidence);

}  // namespace ebbtide::fit
