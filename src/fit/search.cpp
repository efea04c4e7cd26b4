#include "fit/search.hpp"

#include <algorithm>

namespace ebbtide::fit {
namespace {

constexpr std::size_t most_valleys = 16;   // descended on block means
constexpr std::size_t most_finalists = 3;  // descended on all points
constexpr int most_rounds = 4;             // of looking around from the best
constexpr int evaluations_on_means = 300;
constexpr double near_enough = 1e-9;  // of the sum of squares of means, which are not the points
constexpr int evaluations_on_points = 300;

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

}  // namespace

Search search(const Problem& problem, const SearchRange& range) {
    const CurveStore means = block_means(problem.curve());
    const Problem on_means(problem, means.view());
    Search out;
    std::vector<Descent> found;
    const bool few = means.x.size() == problem.curve().size();
    const Enough enough{.share = few ? 0 : near_enough};
    const auto go = [&](const std::vector<double>& start) {
        found.push_back(descend(on_means, start, range.bounds, evaluations_on_means, enough));
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

}  // namespace ebbtide::fit
