#include "fit/profile.hpp"

#include <algorithm>
#include <cmath>

#include "fit/rise.hpp"
#include "fit/starts.hpp"

namespace ebbtide::fit {
namespace {

constexpr int evaluations = 200;

/// The profile of one parameter: its own coordinate is log theta for a shape parameter, the scaled amplitude
/// otherwise.
class Profile {
  public:
    Profile(const Problem& problem, const Bounds& bounds, std::size_t parameter)
        : problem_(problem),
          bounds_(bounds),
          parameter_(parameter),
          columns_(problem.law().amplitudes.size()) {
        if (!is_shape()) bounds_.held_amplitudes.resize(columns_);
    }
    [[nodiscard]] bool is_shape() const { return parameter_ >= columns_; }
    [[nodiscard]] double low() const { return bounds_.low[parameter_ - columns_]; }
    [[nodiscard]] double high() const { return bounds_.high[parameter_ - columns_]; }

    /// The least sum of squares with the parameter pinned there; `log_theta` is the start, and becomes the
    /// end.
    [[nodiscard]] double rss_at(double coordinate, std::vector<double>& log_theta) const {
        Bounds pinned = bounds_;
        if (is_shape()) {
            pinned.held[parameter_ - columns_] = true;
            log_theta[parameter_ - columns_] = coordinate;
        } else {
            pinned.held_amplitudes[parameter_] = coordinate;
        }
        const Descent end = descend(problem_, log_theta, pinned, evaluations);
        if (end.at.usable) log_theta = end.log_theta;
        return end.at.rss;
    }

  private:
    const Problem& problem_;
    Bounds bounds_;
    std::size_t parameter_, columns_;
};

}  // namespace

std::optional<ProfileInterval> profile_interval(const Law& law, const Curve& curve, const Spread& spread,
                                                const Fit& fit, std::size_t parameter, double confidence) {
    if (!fit.ok() || parameter >= fit.parameters.size()) return std::nullopt;
    const Parameter& found = fit.parameters[parameter];
    if (found.standing == Standing::held || found.standing == Standing::did_not_move) return std::nullopt;

    CurveStore ordered;
    Curve points = curve;
    if (!std::ranges::is_sorted(curve.x)) {
        ordered = sorted(curve);
        points = ordered.view();
    }
    const Problem problem(law, points);
    std::vector<std::optional<double>> held(law.shape.size());
    const std::size_t columns = law.amplitudes.size();
    std::vector<double> log_theta(law.shape.size());
    for (std::size_t k = 0; k < log_theta.size(); ++k) {
        const Parameter& shape = fit.parameters[columns + k];
        if (shape.standing == Standing::held) held[k] = shape.value;
        log_theta[k] = std::log(shape.value / (law.shape[k].scales_with_x ? problem.x_unit() : 1));
    }
    const Bounds bounds = search_range(problem, held).bounds;
    const Profile profile(problem, bounds, parameter);
    const double unit = profile.is_shape()
                            ? (law.shape[parameter - columns].scales_with_x ? problem.x_unit() : 1)
                            : problem.y_unit();
    const double best = profile.is_shape() ? std::log(found.value / unit) : found.value / unit;

    // Independent points of this scatter would have the error `plain`; what correlation made of it widens the
    // rise.
    Spread independent = spread;
    if (spread.scatter == Scatter::correlated_residuals || spread.scatter == Scatter::stated_noise)
        independent.scatter = Scatter::from_residuals;
    double widened = 1;
    const double weight_unit = problem.y_unit() / problem.sigma_unit();
    double variance = fit.rss / (weight_unit * weight_unit) /
                      (static_cast<double>(fit.points) - static_cast<double>(law.parameter_count()));
    if (spread.scatter == Scatter::stated) variance = 1 / (weight_unit * weight_unit);
    const Fit plain = fit_from(law, points, independent, fit.shape(law), held);
    if (found.standard_error && parameter < plain.parameters.size() &&
        plain.parameters[parameter].standard_error)
        widened = std::pow(*found.standard_error / *plain.parameters[parameter].standard_error, 2);
    const double student = deviations_allowed(spread.scatter, fit.degrees_of_freedom, confidence);
    const double allowed = student * student * variance * widened;
    if (!(allowed > 0)) return std::nullopt;

    const double size = found.standard_error
                            ? *found.standard_error / (profile.is_shape() ? found.value : unit)
                            : (profile.is_shape() ? 0.5 : std::max(0.1 * std::abs(best), 1e-3));
    const double step = std::max(student * size, 1e-12);
    const double rss = fit.rss / (weight_unit * weight_unit);
    const auto root_of_rise = [&](double at, std::vector<double>& logs) {
        return std::sqrt(std::max(0.0, profile.rss_at(at, logs) - rss) / allowed);
    };
    const auto end_towards = [&](double direction) -> std::optional<double> {
        Walk walk{.from = best, .step = direction * step, .log_theta = log_theta};
        if (profile.is_shape()) {
            walk.low = profile.low();
            walk.high = profile.high();
        }
        const std::optional<double> end = where_chance_ends(root_of_rise, walk);
        if (!end) return std::nullopt;
        return unit * (profile.is_shape() ? std::exp(*end) : *end);
    };
    return ProfileInterval{end_towards(-1), end_towards(1)};
}

}  // namespace ebbtide::fit
