#include "fit/fit.hpp"

#include <algorithm>
#include <boost/math/distributions/students_t.hpp>
#include <cmath>

#include "fit/admission.hpp"
#include "fit/covariance.hpp"
#include "fit/search.hpp"
#include "fit/solve.hpp"

namespace ebbtide::fit {
namespace {

constexpr int most_evaluations = 300;

void finish(Fit& out, const Problem& problem, Descent descent, std::vector<double> start,
            const Bounds& bounds, const Spread& spread) {
    const Law& law = problem.law();
    out.outcome = descent.outcome;
    out.reason = words_of(out.outcome);
    out.evaluations = descent.evaluations;
    if (!descent.at.usable) return;
    put_in_order(problem, descent, bounds);
    if (start.size() == descent.log_theta.size() && law.interchangeable) std::ranges::sort(start);
    polish(problem, descent, bounds);
    out.evaluations = descent.evaluations;
    const double unit = problem.y_unit() / problem.sigma_unit();
    out.rss = descent.at.rss * unit * unit;
    for (std::size_t j = 0; j < law.amplitudes.size(); ++j)
        out.parameters.push_back({law.amplitudes[j],
                                  descent.at.amplitude(static_cast<Eigen::Index>(j)) * problem.y_unit(),
                                  std::nullopt, Standing::not_determined});
    for (std::size_t k = 0; k < law.shape.size(); ++k) {
        const double x_unit = law.shape[k].scales_with_x ? problem.x_unit() : 1;
        out.parameters.push_back({law.shape[k].name, std::exp(descent.log_theta[k]) * x_unit, std::nullopt,
                                  Standing::not_determined});
    }
    add_errors(out, problem, descent, start, bounds, spread);
}

/// Where the quick way leads, proven on all points by the general one; nothing where it does not apply.
std::optional<Search> search_quickly(const Problem& problem, const SearchRange& range) {
    const Law& law = problem.law();
    const Solution found = solve(law, problem.curve(), Way::fast);
    if (!found.ok()) return std::nullopt;
    Search out;
    for (std::size_t k = 0; k < law.shape.size(); ++k)
        out.start.push_back(
            std::clamp(std::log(found.shape[k] / (law.shape[k].scales_with_x ? problem.x_unit() : 1)),
                       range.bounds.low[k], range.bounds.high[k]));
    out.best = descend(problem, out.start, range.bounds, most_evaluations);
    out.valleys = 1;
    const double unit = problem.y_unit() / problem.sigma_unit();
    // Also guards against a law whose form is not what it says.
    const double most =
        found.rss * (1 + 1e-6) / (unit * unit) + 1e-24 * out.best.at.y_length * out.best.at.y_length;
    if (out.best.outcome != Outcome::converged || !(out.best.at.rss <= most)) return std::nullopt;
    return out;
}

/// Checks the points, puts them in order, and hands them to `work`.
template <class Work>
Fit on_points(const Law& law, const Curve& curve, const Spread& spread,
              const std::vector<std::optional<double>>& held, Work work) {
    Fit out;
    out.points = curve.size();
    const Admission admitted = admit(law, curve, held);
    out.outcome = admitted.outcome;
    out.reason = admitted.reason;
    if (admitted.ok() && spread.scatter == Scatter::stated && curve.sigma.empty()) {
        out.outcome = Outcome::bad_samples;
        out.reason = "stated scatter needs sigma at every point";
    }
    if (out.outcome == Outcome::not_run) work(out, Problem(law, admitted.points));
    return out;
}

}  // namespace

const Parameter* Fit::find(std::string_view name) const {
    const auto at = std::ranges::find(parameters, name, &Parameter::name);
    return at == parameters.end() ? nullptr : &*at;
}

bool Fit::determined() const {
    return ok() && told_apart && std::ranges::all_of(parameters, [](const Parameter& p) {
               return p.standing == Standing::free || p.standing == Standing::held;
           });
}

std::vector<double> Fit::amplitudes(const Law& law) const {
    std::vector<double> out;
    for (std::size_t j = 0; j < law.amplitudes.size() && j < parameters.size(); ++j)
        out.push_back(parameters[j].value);
    return out;
}

std::vector<double> Fit::shape(const Law& law) const {
    std::vector<double> out;
    for (std::size_t i = law.amplitudes.size(); i < parameters.size(); ++i)
        out.push_back(parameters[i].value);
    return out;
}

Fit fit(const Law& law, const Curve& curve, const Spread& spread,
        const std::vector<std::optional<double>>& held) {
    return on_points(law, curve, spread, held, [&](Fit& out, const Problem& problem) {
        const SearchRange range = search_range(problem, held);
        const bool pinned = std::ranges::any_of(held, [](const auto& h) { return h.has_value(); });
        std::optional<Search> quick;
        if (!pinned) quick = search_quickly(problem, range);
        Search found = quick ? std::move(*quick) : search(problem, range);
        out.valleys = found.valleys;
        finish(out, problem, std::move(found.best), std::move(found.start), range.bounds, spread);
    });
}

Fit fit_from(const Law& law, const Curve& curve, const Spread& spread, const std::vector<double>& start,
             const std::vector<std::optional<double>>& held) {
    return on_points(law, curve, spread, held, [&](Fit& out, const Problem& problem) {
        const SearchRange range = search_range(problem, held);
        std::vector<double> logs(law.shape.size());
        for (std::size_t k = 0; k < logs.size(); ++k) {
            const double unit = law.shape[k].scales_with_x ? problem.x_unit() : 1;
            logs[k] = range.bounds.held[k]
                          ? range.bounds.low[k]
                          : std::clamp(std::log(start[k] / unit), range.bounds.low[k], range.bounds.high[k]);
        }
        Descent descent = descend(problem, logs, range.bounds, most_evaluations);
        out.valleys = 1;
        finish(out, problem, std::move(descent), logs, range.bounds, spread);
    });
}

std::optional<Interval> interval_of(const Fit& fit, const Law& law, std::size_t parameter,
                                    double confidence) {
    const Parameter& p = fit.parameters.at(parameter);
    if (!p.standard_error || !(fit.degrees_of_freedom > 0)) return std::nullopt;
    const boost::math::students_t student(fit.degrees_of_freedom);
    const double half = boost::math::quantile(student, 0.5 + confidence / 2) * *p.standard_error;
    if (parameter < law.amplitudes.size()) return Interval{p.value - half, p.value + half};
    return Interval{p.value * std::exp(-half / p.value), p.value * std::exp(half / p.value)};
}

}  // namespace ebbtide::fit
