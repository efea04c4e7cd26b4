#pragma once
// Where a fitted law passes a level, and how sure that place is, inside the record or far beyond it.

#include <memory>
#include <optional>
#include <vector>

#include "fit/curve.hpp"
#include "fit/fit.hpp"
#include "fit/law.hpp"

namespace ebbtide::fit {

/// law(x) - share_of_start * law(0) = target at the passage.
struct Condition {
    double share_of_start = 0;  ///< 0: the level stands by itself
    double target = 0;          ///< units of y
    double u_target = 0;        ///< what it is known to, independently of the points; >= 0
    bool falling = true;        ///< the law comes from above
};

/// How unlikely a passage is that lies elsewhere.
struct PassagePoint {
    double x = 0;
    double deviations = 0;  ///< signed root of the rise of the sum of squares, in units of its standard
                            ///< deviation; negative before the best place
};

struct Passage {
    std::optional<double> x;          ///< where it comes below for good; nothing: it ends above
    std::optional<double> low, high;  ///< 95 %; nothing: no limit on that side, or no chance that it passes
    std::vector<PassagePoint> shape;  ///< by ascending x, deviations rising; empty: nothing is known
    double degrees_of_freedom = 0;    ///< of the scatter; infinite where it is known

    /// The chance that the passage lies before x: Student's distribution of the deviations. 0 < x.
    [[nodiscard]] double chance_before(double x) const;
};

class HeldLaw;

/// Passages of one fit. Prepares what all levels share: block means of the residuals laid back on the law, so
/// that they lean on no curvature, however many points there are.
class Passages {
  public:
    /// `fit` is what fit() gave for this law and these points (ascending x, the last one above zero),
    /// converged; `scatter` as it was asked for.
    Passages(const Law& law, const Curve& curve, const Fit& fit, Scatter scatter);
    ~Passages();
    Passages(const Passages&) = delete;
    Passages& operator=(const Passages&) = delete;

    /// The last passage within `farthest` times the last x. The interval is a profile likelihood (Venzon and
    /// Moolgavkar, Applied Statistics 37 (1988) 87, from memory): the law is held to the condition at x, all
    /// parameters give way, and the sum of squares may rise by Student's (known scatter: the normal's) square
    /// times its variance. Where the errors of the fit were widened for noise that remembers, the rise is
    /// widened by what that does to the law at the passage; where they are not known (a parameter is not
    /// determined) by the most it can do. Scatter below 1e-9 of y counts as 1e-9: an interval is no narrower
    /// than what rounding allows to be told.
    [[nodiscard]] Passage of(const Condition& condition);

    static constexpr double farthest = 1e3;

  private:
    std::unique_ptr<HeldLaw> law_;
    Scatter scatter_;
    double degrees_of_freedom_;
};

}  // namespace ebbtide::fit
