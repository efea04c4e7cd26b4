#include "judge/influences.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <set>

#include "judge/monte_carlo.hpp"
#include "judge/run_flags.hpp"
#include "judge/statistic.hpp"
#include "judge/uncertainty_of.hpp"

namespace ebbtide::judge {
namespace {

using decay::Contribution;
using decay::Scope;

const plan::Item* item_of(const std::string& specimen, const plan::Order& order) {
    const plan::Specimen* cut = order.specimen(specimen);
    if (!cut) return nullptr;
    const auto found = std::ranges::find(order.items, cut->item, &plan::Item::id);
    return found == order.items.end() ? nullptr : &*found;
}

bool has_time(const decay::LevelFigure& figure) {
    return figure.decay_s && *figure.decay_s > 0;
}

/// Of the run's own parts, relative to its decay time.
double own_variance(const decay::LevelFigure& figure) {
    std::vector<Contribution> own;
    for (const Contribution& c : figure.budget)
        if (c.scope == Scope::run) own.push_back(c);
    return std::pow(decay::combined_u_s(own) / *figure.decay_s, 2);
}

void add_air(decay::LevelFigure& figure, const std::string& specimen, const plan::Order& order,
             const plan::Method& method, const plan::Hygrometer& hygrometer) {
    const auto add = [&](Influence influence, std::string_view source, double u, const char* unit) {
        const auto steepness = steepness_of(specimen, influence, order, method);
        if (!steepness || !(u > 0)) return false;
        figure.budget.push_back({std::string(source),
                                 u,
                                 unit,
                                 -*figure.decay_s * std::log(10.0) / steepness->per_decade,
                                 {},
                                 Scope::bench,
                                 ""});
        return true;
    };
    const bool humidity =
        add(Influence::humidity, humidity_line, hygrometer.u_relative_humidity_percent, "% RH");
    const bool temperature = add(Influence::temperature, temperature_line, hygrometer.u_temperature_C, "°C");
    if (!humidity || !temperature || hygrometer.correlation == 0) return;
    figure.budget.back().correlated_with = humidity_line;
    figure.budget.back().correlation = hygrometer.correlation;
}

std::vector<plan::Level> levels_of(std::span<const JudgedRun> runs) {
    std::vector<plan::Level> levels;
    for (const JudgedRun& run : runs) {
        if (!run.figures) continue;
        for (const decay::LevelFigure& figure : run.figures->levels) plan::add_once(levels, figure.level);
    }
    return levels;
}

/// "item A", "items A, B and C".
std::string items_text(const std::set<std::string>& items) {
    std::string text = items.size() == 1 ? "item " : "items ";
    std::size_t number = 0;
    for (const std::string& item : items) {
        if (number > 0) text += number + 1 == items.size() ? " and " : ", ";
        text += item;
        ++number;
    }
    return text;
}

void say_missing_air(std::vector<std::string>& sentences, std::span<const JudgedRun> runs,
                     const plan::Order& order, const plan::Method& method, Influence influence) {
    std::set<std::string> items;
    bool missing = false;
    for (const JudgedRun& run : runs) {
        if (!run.counts || steepness_of(run.key.specimen, influence, order, method)) continue;
        missing = true;
        if (const plan::Item* item = item_of(run.key.specimen, order)) items.insert(item->id);
    }
    if (!missing) return;
    const bool humidity = influence == Influence::humidity;
    sentences.push_back(
        fmt::format("{} is not in the budget: neither {} nor the method states how steeply decay times "
                    "follow it (sensitivity.{}).",
                    humidity ? "Humidity" : "Temperature", items.empty() ? "the items" : items_text(items),
                    humidity ? "humidity_percent_per_decade" : "temperature_C_per_decade"));
}

}  // namespace

std::vector<JudgedRun> with_influences(std::vector<JudgedRun> runs, const plan::Order& order,
                                       const plan::Method& method, const std::optional<plan::Bench>& bench) {
    for (JudgedRun& run : runs) settle(run, method);
    for (const plan::Level& level : levels_of(runs)) {
        // From the instrument's budgets, before anything is added to them.
        const auto repeatability = repeatability_of(runs, level);
        for (JudgedRun& run : runs) {
            if (!run.figures) continue;
            for (decay::LevelFigure& figure : run.figures->levels) {
                if (figure.level.kind != level.kind || figure.level.value != level.value || !has_time(figure))
                    continue;
                const double decay_s = *figure.decay_s;
                if (bench) {
                    add_air(figure, run.key.specimen, order, method, bench->hygrometer);
                    if (bench->fixture.u_clamping > 0)
                        figure.budget.push_back({std::string(clamping_line),
                                                 bench->fixture.u_clamping,
                                                 "1",
                                                 decay_s,
                                                 {},
                                                 Scope::series,
                                                 ""});
                }
                if (repeatability)
                    figure.budget.push_back({std::string(replicates_line), repeatability->relative_u, "1",
                                             decay_s, repeatability->degrees_of_freedom, Scope::run, "", 0,
                                             true});
                std::ranges::stable_sort(figure.budget, std::greater{}, &Contribution::u_s);
                figure.u_decay_s = decay::combined_u_s(figure.budget);
                figure.degrees_of_freedom = decay::effective_degrees_of_freedom(figure.budget);
            }
        }
    }
    return runs;
}

std::optional<Steepness> steepness_of(const std::string& specimen, Influence influence,
                                      const plan::Order& order, const plan::Method& method) {
    const auto field = influence == Influence::humidity ? &plan::Sensitivity::humidity_percent_per_decade
                                                        : &plan::Sensitivity::temperature_C_per_decade;
    const plan::Item* item = item_of(specimen, order);
    if (item && item->sensitivity.*field)
        return Steepness{*(item->sensitivity.*field), item->sensitivity.source, true};
    if (method.sensitivity.*field)
        return Steepness{*(method.sensitivity.*field), method.sensitivity.source, false};
    return {};
}

std::optional<Repeatability> repeatability_of(std::span<const JudgedRun> runs, const plan::Level& level) {
    std::map<std::string, std::vector<const decay::LevelFigure*>> series;
    for (const JudgedRun& run : runs) {
        const decay::LevelFigure* figure = run.counts ? figure_at(run, level) : nullptr;
        if (figure && has_time(*figure)) series[series_of(run.key)].push_back(figure);
    }
    double squares = 0, explained = 0, freedom = 0;
    for (const auto& [name, figures] : series) {
        if (figures.size() < 2) continue;
        const double n = static_cast<double>(figures.size());
        double mean_s = 0;
        for (const decay::LevelFigure* figure : figures) mean_s += *figure->decay_s / n;
        for (const decay::LevelFigure* figure : figures) {
            squares += std::pow(*figure->decay_s / mean_s - 1, 2);
            explained += (n - 1) / n * own_variance(*figure);
        }
        freedom += n - 1;
    }
    const double excess = (squares - explained) / freedom;
    if (!(freedom > 0) || !(excess > 0)) return {};
    return Repeatability{std::sqrt(excess), freedom * std::pow(excess * freedom / squares, 2)};
}

std::vector<std::string> missing_influences(std::span<const JudgedRun> runs, const plan::Order& order,
                                            const plan::Method& method,
                                            const std::optional<plan::Bench>& bench) {
    bool measured = false, replicated = false;
    std::map<std::string, int> series;
    for (const JudgedRun& run : runs) {
        if (!run.counts || !run.figures || std::ranges::none_of(run.figures->levels, has_time)) continue;
        measured = true;
        replicated = ++series[series_of(run.key)] > 1 || replicated;
    }
    std::vector<std::string> sentences;
    if (!measured) return sentences;
    if (bench) {
        say_missing_air(sentences, runs, order, method, Influence::humidity);
        say_missing_air(sentences, runs, order, method, Influence::temperature);
        if (!(bench->fixture.u_clamping > 0))
            sentences.emplace_back(
                "Clamping is not in the budget: the bench does not state how the decay times of one specimen "
                "scatter when it is mounted anew (fixture.u_clamping).");
    } else {
        sentences.emplace_back(
            "Humidity, temperature and clamping are not in the budget: the order names no bench.");
    }
    if (!replicated)
        sentences.emplace_back("Repeatability is not in the budget: no setting was run more than once.");
    return sentences;
}

Judgement judge_with_influences(std::vector<JudgedRun> runs, const plan::Order& order,
                                const plan::Method& method, const plan::Specification& specification,
                                const std::optional<plan::Bench>& bench, bool monte_carlo) {
    runs = with_influences(std::move(runs), order, method, bench);
    if (monte_carlo) runs = with_monte_carlo(std::move(runs));
    Judgement judgement = judge(std::move(runs), order, method, specification);
    for (std::string& missing : missing_influences(judgement.runs, order, method, bench))
        judgement.cautions.push_back(std::move(missing));
    return judgement;
}

}  // namespace ebbtide::judge
