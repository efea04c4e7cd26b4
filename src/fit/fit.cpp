#include "fit/fit.hpp"

#include <algorithm>
#include <boost/math/distributions/students_t.hpp>
#include <cmath>

#include "fit/covariance.hpp"
#include "fit/starts.hpp"

namespace ebbtide::fit {
namespace {

constexpr std::size_t most_valleys = 16;   // descended on block means
constexpr std::size_t most_finalists = 3;  // descended on all points
constexpr int most_rounds = 4;             // of looking around from the best
constexpr int evaluations_on_means = 300;
constexpr int evaluations_on_points = 300;
constexpr double largest_number = 1e100;  // squares of it and sums of those stay finite

/// Why these points cannot be fitted; empty when they can.
std::string fault_of(const Law& law, const Curve& curve, const Spread& spread) {
    if (curve.x.size() != curve.y.size() || (!curve.sigma.empty() && curve.sigma.size() != curve.x.size()))
        return "x, y and sigma have different lengths";
    const auto usable = [](double number) { return std::abs(number) < largest_number; };
    for (std::size_t i = 0; i < curve.size(); ++i) {
        if (!usable(curve.x[i]) || !usable(curve.y[i]))
            return "point " + std::to_string(i + 1) + " is not a finite number of ordinary size";
        if (!curve.sigma.empty() && !(curve.sigma[i] > 1 / largest_number && usable(curve.sigma[i])))
            return "sigma of point " + std::to_string(i + 1) + " is not positive";
        if (law.from_zero && curve.x[i] < 0)
            return "point " + std::to_string(i + 1) + " lies before zero, where this law is not defined";
    }
    if (spread.scatter == Scatter::stated && curve.sigma.empty())
        return "stated scatter needs sigma at every point";
    return {};
}

std::size_t distinct(std::span<const double> ascending) {
    std::size_t count = ascending.empty() ? 0 : 1;
    for (std::size_t i = 1; i < ascending.size(); ++i) count += ascending[i] != ascending[i - 1];
    return count;
}

std::string words_of(Outcome outcome) {
    switch (outcome) {
        case Outcome::not_run:
            return "nothing was fitted";
        case Outcome::converged:
            return {};
        case Outcome::stalled:
            return "the search ended before the bottom was proven; the values are the best seen";
        case Outcome::singular:
            return "the points cannot tell the parts of this law apart at any start";
        case Outcome::too_few_samples:
            return "there are no more distinct points than parameters";
        case Outcome::bad_samples:
            return "the points cannot be used";
    }
    return {};
}

/// The lowest first; of valleys that are the same to 1e-6 in their sum of squares only one stays.
void keep_best(std::vector<Descent>& found, std::size_t most) {
    std::erase_if(found, [](const Descent& d) { return !d.at.usable; });
    std::ranges::stable_sort(found, {}, [](const Descent& d) { return d.at.rss; });
    const auto alike = [](const Descent& a, const Descent& b) {
        return b.at.rss - a.at.rss <= 1e-6 * a.at.rss;
    };
    found.erase(std::unique(found.begin(), found.end(), alike), found.end());
    if (found.size() > most) found.resize(most);
}

struct Search {
    Descent best;
    std::vector<double> start;
    int valleys = 0;
};

/// Valleys of the block means, descended there; the best of them descended on all points.
Search search(const Problem& problem, const SearchRange& range) {
    const CurveStore means = block_means(problem.curve());
    const Problem on_means(problem, means.view());
    Search out;
    std::vector<Descent> found;
    const bool few = means.x.size() == problem.curve().size();
    const auto go = [&](const std::vector<double>& start) {
        found.push_back(descend(on_means, start, range.bounds, evaluations_on_means));
        ++out.valleys;
    };
    const std::size_t shapes = problem.law().shape.size();
    const std::size_t least = shapes > 2 ? most_valleys : shapes > 1 ? most_valleys / 2 : 1;
    for (const auto& start : valleys(on_means, range, least, most_valleys)) go(start);
    keep_best(found, most_finalists);
    for (int round = 0; round < most_rounds && shapes > 1 && !found.empty(); ++round) {
        const double before = found.front().at.rss;
        const std::size_t count = found.size();
        for (std::size_t i = 0; i < count; ++i)
            for (const auto& start : splits(problem.law(), found[i].log_theta, range.bounds)) go(start);
        const std::vector<double> best = found.front().log_theta;
        for (const auto& start : replacements(on_means, best, range, evaluations_on_means)) go(start);
        keep_best(found, most_finalists);
        if (found.front().at.rss > before * (1 - 1e-6)) break;
    }
    keep_best(found, few ? 1 : most_finalists);
    if (found.empty()) {
        out.best.outcome = Outcome::singular;
        return out;
    }
    out.start = found.front().log_theta;
    int evaluations = few ? found.front().evaluations : 0;
    const auto go_on_points = [&](const std::vector<double>& start) {
        Descent descent = descend(problem, start, range.bounds, evaluations_on_points);
        evaluations += descent.evaluations;
        return descent;
    };
    if (!few) {
        // Means shift the surface a little: what is a meeting of two time constants there need not be one
        // here.
        for (Descent& finalist : found) finalist = go_on_points(finalist.log_theta);
        keep_best(found, 1);
        if (!found.empty())
            for (const auto& start : splits(problem.law(), found.front().log_theta, range.bounds))
                found.push_back(go_on_points(start));
        keep_best(found, 1);
    }
    if (!found.empty()) out.best = found.front();
    out.best.evaluations = evaluations;
    return out;
}

/// Time constants that are alike in ascending order; the amplitudes follow.
void put_in_order(const Problem& problem, Descent& descent, const Bounds& bounds) {
    if (!problem.law().interchangeable || std::ranges::is_sorted(descent.log_theta) ||
        std::ranges::find(bounds.held, true) != bounds.held.end())
        return;
    std::vector<double> ascending(descent.log_theta);
    std::ranges::sort(ascending);
    const Projection at = project(problem.law(), problem.reduce(exponentials_of(ascending)));
    if (!at.usable) return;  // a pair that differs by rounding only
    descent.log_theta = ascending;
    descent.at = at;
}

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

/// Checks the points, puts them in order, and hands them to `work`.
template <class Work>
Fit on_points(const Law& law, const Curve& curve, const Spread& spread,
              const std::vector<std::optional<double>>& held, Work work) {
    Fit out;
    out.points = curve.size();
    if (const std::string fault = fault_of(law, curve, spread); !fault.empty()) {
        out.outcome = Outcome::bad_samples;
        out.reason = fault;
        return out;
    }
    CurveStore ordered;
    Curve points = curve;
    if (!std::ranges::is_sorted(curve.x)) {
        ordered = sorted(curve);
        points = ordered.view();
    }
    const auto pinned =
        static_cast<std::size_t>(std::ranges::count_if(held, [](const auto& h) { return h.has_value(); }));
    const std::size_t free = law.parameter_count() - pinned;
    if (points.size() <= free || distinct(points.x) < free) {
        out.outcome = Outcome::too_few_samples;
        out.reason = words_of(out.outcome);
        return out;
    }
    work(out, Problem(law, points));
    return out;
}

}  // namespace

const Parameter* Fit::find(std::string_view name) const {
    const auto at = std::ranges::find(parameters, name, &Parameter::name);
    return at == parameters.end() ? nullptr : &*at;
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
        Search found = search(problem, range);
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
        Descent descent = descend(problem, logs, range.bounds, evaluations_on_points);
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
