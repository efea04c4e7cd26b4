// STUB, to be dropped: stands in for run_law.cpp and monte_carlo_time.cpp until they land.

#include <algorithm>
#include <cmath>
#include <random>

#include <fmt/format.h>

#include "basis/number_text.hpp"
#include "decay/run_law.hpp"

namespace ebbtide::decay {
namespace {
LawFigures figures_from(const fit::Curve& curve, const LawChoice& choice) {
    LawFigures out;
    out.from_s = curve.x.front();
    out.to_s = curve.x.back();
    out.samples = curve.size();
    out.effective_samples = choice.effective_samples;
    out.chosen = choice.chosen;
    out.adequate = choice.adequate;
    if (out.adequate && !*out.adequate) out.doubt = "Residuals of the best stay on one side.";
    double lowest = HUGE_VAL;
    const LawModel* best = nullptr;
    for (const LawModel& m : choice.models) {
        if (m.aicc && *m.aicc < lowest) lowest = *m.aicc;
        if (m.fit.ok() && (!best || m.fit.rss < best->fit.rss)) best = &m;
    }
    double sum = 0;
    for (const LawModel& m : choice.models) {
        LawCandidate c;
        c.kind = m.kind;
        c.outcome = m.fit.outcome;
        c.reason = m.fit.reason;
        c.merged = m.fit.merged;
        c.parameters = m.fit.parameters;
        if (!m.fit.parameters.empty()) c.rss = m.fit.rss;
        c.aicc = m.aicc;
        c.weight = m.aicc ? std::exp(-(*m.aicc - lowest) / 2) : 0;
        sum += c.weight;
        out.candidates.push_back(c);
    }
    for (LawCandidate& c : out.candidates)
        if (sum > 0) c.weight /= sum;
    if (choice.chosen) best = &choice.models[*choice.chosen];
    if (!best) return out;
    const auto law =
        fit::values_of(best->law, best->fit.amplitudes(best->law), best->fit.shape(best->law), curve.x);
    const std::size_t n = std::min<std::size_t>(60, curve.size());
    for (std::size_t b = 0; b < n; ++b) {
        const std::size_t first = b * curve.size() / n, last = (b + 1) * curve.size() / n;
        ResidualPoint p;
        double s2 = 0;
        for (std::size_t i = first; i < last; ++i) {
            const double r = curve.y[i] - law[i];
            p.time_s += curve.x[i] / double(last - first);
            p.residual_V += r / double(last - first);
            p.law_V += law[i] / double(last - first);
            s2 += r * r;
        }
        p.u_V = std::sqrt(s2) / double(last - first);
        out.residuals.push_back(p);
    }
    return out;
}
}  // namespace

LawFigures law_figures_of(const RunTrace& run, const Figures& figures,
                          const std::optional<plan::Bench>& bench, const LawQuestion& question) {
    LawFigures out;
    if (!figures.initial_voltage_V) {
        out.missing = "no initial voltage";
        return out;
    }
    fit::CurveStore store;
    const double from = figures.release_s + 2 * figures.resolution_s;
    for (std::size_t i = run.specimen.at_or_after(from); i < run.specimen.size(); ++i) {
        store.x.push_back(run.specimen.time_s[i] - figures.release_s);
        store.y.push_back(run.sign * (run.specimen.value[i] - figures.zero_V));
    }
    if (store.x.size() < 16) {
        out.missing = "too few samples after the release";
        return out;
    }
    Circumstances c;
    const auto choice = choose_law(store.view(), question.kinds.empty() ? law_kinds_under(c) : question.kinds,
                                   question.offset, fit::Scatter::correlated_residuals, c, question.robust);
    out = figures_from(store.view(), choice);
    if (bench) out.lag_s = bench->sensor.lag_s;
    for (const LevelFigure& f : figures.levels)
        if (f.status == LevelStatus::not_reached && out.chosen) {
            const double T = out.candidates[*out.chosen].parameters.back().value;
            Extrapolated e;
            e.level = f.level;
            e.decay_s = T * std::log(1 / f.level.value);
            e.low_s = *e.decay_s * 0.9;
            if (f.level.value > 0.2) e.high_s = *e.decay_s * 1.2;
            out.extrapolated.push_back(e);
            for (auto& m : out.candidates) m.extrapolated.push_back(e);
        }
    return out;
}

LawFigures law_figures_of(const fit::Curve& curve, const std::vector<plan::Level>&,
                          const LawQuestion& question, fit::Scatter scatter) {
    const fit::CurveStore s = fit::sorted(curve);
    return figures_from(s.view(),
                        choose_law(s.view(), question.kinds.empty() ? law_kinds_under({}) : question.kinds,
                                   question.offset, scatter));
}

MonteCarloTime monte_carlo_time(double decay_s, double expanded_u_s, std::span<const Contribution> budget,
                                const LocalFall&, std::uint64_t seed) {
    std::mt19937_64 random(seed);
    std::normal_distribution<double> normal;
    std::vector<double> t(10000);
    double sum = 0, square = 0;
    for (double& x : t) {
        x = decay_s;
        for (const Contribution& c : budget) x += normal(random) * c.u_s();
        sum += x;
    }
    std::ranges::sort(t);
    MonteCarloTime out;
    out.mean_s = sum / 10000;
    for (double x : t) square += (x - out.mean_s) * (x - out.mean_s);
    out.u_s = std::sqrt(square / 9999);
    out.low_s = t[250];
    out.high_s = t[9749];
    out.trials = 10000;
    out.stable = true;
    out.agrees = std::abs(out.high_s - decay_s - expanded_u_s) < 0.2 * expanded_u_s;
    return out;
}

namespace {
using plan::FlagCode;
std::string sides_message(const decay::PulseSides& sides) {
    return fmt::format(
        "Time constant {} s charging, {} s falling: {} % apart, of which chance explains {} %.",
        significant_text(sides.charging_time_s, 3), significant_text(sides.falling_time_s, 3),
        significant_text(100 * std::abs(sides.difference), 2), significant_text(200 * sides.u_difference, 2));
}

}  // namespace
void add_law(Figures& figures, const RunTrace& run, const plan::DecayRules& rules,
             const std::optional<plan::Bench>& bench, const LawQuestion& question) {
    figures.law = law_figures_of(run, figures, bench, question);
    const LawFigures& law = *figures.law;
    if (law.adequate && !*law.adequate) figures.flags.emplace_back(FlagCode::no_law, law.doubt);
    if (law.sides && !law.sides->agree)
        figures.flags.emplace_back(FlagCode::sides_differ, sides_message(*law.sides));
    if (!rules.extrapolation_allowed) return;
    for (LevelFigure& figure : figures.levels) {
        if (figure.status != LevelStatus::not_reached) continue;
        const auto said = std::ranges::find_if(law.extrapolated, [&](const Extrapolated& one) {
            return one.level.kind == figure.level.kind && one.level.value == figure.level.value;
        });
        if (said == law.extrapolated.end() || !said->decay_s || !said->low_s || !said->high_s) continue;
        figure.status = LevelStatus::extrapolated;
        figure.beyond = *said;
        figure.decay_s = said->decay_s;
        // A quarter of the 95 % interval, by its longer arm where the two differ.
        const double u_s = std::max(*said->high_s - *said->decay_s, *said->decay_s - *said->low_s) / 2;
        figure.budget = {{"extrapolation by the laws", u_s, "s", 1, {}, Scope::run, ""}};
        figure.u_decay_s = u_s;
    }
}

}  // namespace ebbtide::decay
