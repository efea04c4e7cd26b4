#pragma once
// A fitted law that can be held to pass a level at some x, all its parameters giving way.

#include <optional>
#include <span>
#include <vector>

#include "fit/descent.hpp"
#include "fit/fit.hpp"
#include "fit/passage.hpp"

namespace ebbtide::fit {

/// Works on block means of the residuals laid back on the law, so that it leans on no curvature, and costs
/// the same for any number of points. One more row, at an abscissa of its own, holds the law.
class HeldLaw {
  public:
    /// As Passages.
    HeldLaw(const Law& law, const Curve& curve, const Fit& fit, Scatter scatter);
    HeldLaw(const HeldLaw&) = delete;
    HeldLaw& operator=(const HeldLaw&) = delete;

    [[nodiscard]] bool usable() const { return best_.at.usable && fit_.degrees_of_freedom > 0; }
    [[nodiscard]] double last() const { return last_; }
    [[nodiscard]] const Law& law() const { return law_; }
    /// Of the law when it is held by nothing.
    [[nodiscard]] std::vector<double> values(const std::vector<double>& x) const;
    [[nodiscard]] const std::vector<double>& log_theta() const { return best_.log_theta; }

    /// What rise_at() asks about from now on; `near` is where the passage may lie. `allowed` deviations are
    /// where the caller's search ends.
    void aim(const Condition& condition, double near, double allowed);
    /// The root of the rise of the sum of squares with the law held at x, in standard deviations; infinite
    /// where nothing fits. `log_theta` is a start, and becomes where it ended.
    [[nodiscard]] double deviations_at(double x, std::vector<double>& log_theta);
    /// Standard deviation of the passage near `x` on the linear picture, in log x; nothing where it is none.
    [[nodiscard]] std::optional<double> u_log(double x) const;

  private:
    /// Takes out of the means what leans on the law's directions at these shape parameters. The samples'
    /// residuals do not lean on them, those of means do a little, and would shift the best.
    void turn_away(const std::vector<double>& log_theta);
    /// The bottom from there, with parts of the wrong sign left out one by one.
    [[nodiscard]] Descent descend_from(const Problem& on, std::vector<double> logs) const;
    /// The lowest of several bottoms where the parameters wander.
    [[nodiscard]] Descent lowest(const Problem& on, const std::vector<double>& logs) const;
    /// d (left side of the condition) / d [amplitudes | log theta] at the best, scaled.
    [[nodiscard]] Eigen::VectorXd gradient() const;
    /// Variance of the left side over its leverage: over what points of unit variance would give it, scaled.
    [[nodiscard]] double variance_over(const Eigen::VectorXd& gradient, double leverage) const;

    Law law_;          // as given
    Law with_marker_;  // the same; at the marker's abscissa the condition's left side
    Fit fit_;
    Scatter scatter_;
    double last_ = 0;
    bool determined_ = false;                 // every parameter, and told apart
    double one_sign_ = 0;                     // the sign that parts of a sum must have; 0: any
    std::vector<double> amplitudes_, theta_;  // when held by nothing, units of the caller
    Bounds bounds_;                           // scaled, as all that follows
    CurveStore points_;                       // means; the last one is the marker
    std::optional<Problem> held_, bare_;      // with the marker, and without
    Descent best_;
    double marker_x_ = 0, share_of_start_ = 0;
    double leverage_ = 0, variance_ = 0, u_ = 0;  // of the aim
    double small_fall_ = 0;                       // of the sum of squares: no need to go on for less
    double good_enough_ = 0;                      // a sum of squares for which no other valley is looked at
};

}  // namespace ebbtide::fit
