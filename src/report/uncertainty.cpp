#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <set>

#include "basis/number_text.hpp"
#include "judge/advice.hpp"
#include "judge/influences.hpp"
#include "judge/uncertainty_of.hpp"
#include "report/budget_table.hpp"
#include "report/chapters.hpp"
#include "report/dot_rows.hpp"
#include "report/law_words.hpp"
#include "report/words.hpp"

namespace ebbtide::report {
namespace {

/// The result whose budget is shown.
struct Deciding {
    std::string lead;  ///< "t(10 %) of W1 front dry, positive, run 2 is 0.45(1) s; ..."
    std::span<const decay::Contribution> budget;
    std::optional<double> spread_s;
    bool is_mean = false;
    std::vector<const decay::LevelFigure*> figures;  ///< of its runs
};

std::vector<const decay::LevelFigure*> figures_in(const judge::Finding& finding,
                                                  const plan::Requirement& requirement,
                                                  const judge::Judgement& judgement) {
    std::vector<const decay::LevelFigure*> figures;
    for (const std::size_t i : finding.runs)
        if (const decay::LevelFigure* figure = figure_at(judgement.runs.at(i), requirement.level))
            figures.push_back(figure);
    return figures;
}

/// "mean t(10 %) of warp, as received (n = 6)", "t(10 %) of W1 front dry, positive, run 2".
std::string name_of_result(const judge::Finding& finding, const plan::Requirement& requirement,
                           const judge::Judgement& judgement) {
    const std::string level = requirement.level.label();
    if (requirement.statistic == plan::Statistic::mean)
        return fmt::format("The mean t({}) of {} (n = {})", level, finding.group, finding.runs.size());
    return fmt::format("t({}) of {}", level, run_name(judgement.runs.at(finding.runs.front()).key));
}

std::optional<Deciding> closest_result(const judge::Judgement& judgement) {
    const auto closest = deciding_result(judgement);
    if (!closest) return {};
    const judge::Finding& finding = *closest->finding;
    const plan::Requirement& requirement = *closest->requirement;
    return Deciding{
        fmt::format("{} is {} s; of all results it lies closest to its limit ({} s).",
                    name_of_result(finding, requirement, judgement),
                    uncertain_text(*finding.value_s, finding.u_s), shortest_text(requirement.limit_s)),
        finding.budget, finding.spread_s, requirement.statistic == plan::Statistic::mean,
        figures_in(finding, requirement, judgement)};
}

/// Where no result was judged: the first measured run that counts.
std::optional<Deciding> first_measured(const judge::Judgement& judgement) {
    for (const judge::JudgedRun& run : judgement.runs) {
        if (!run.counts || !run.figures) continue;
        for (const decay::LevelFigure& figure : run.figures->levels)
            if (figure.decay_s && figure.status == decay::LevelStatus::measured && !figure.budget.empty())
                return Deciding{fmt::format("t({}) of {} is {} s.", figure.level.label(), run_name(run.key),
                                            uncertain_text(*figure.decay_s, figure.u_decay_s)),
                                figure.budget,
                                {},
                                false,
                                {&figure}};
    }
    return {};
}

std::string sum_text(const Deciding& chosen) {
    const judge::Sum sum = judge::sum_of(chosen.budget);
    const bool correlated = std::ranges::any_of(
        chosen.budget, [](const decay::Contribution& line) { return line.correlation != 0; });
    std::string text = fmt::format(
        "Standard uncertainty u = {} s{}, {} degrees of freedom (first order, JCGM 100:2008, clause 5).",
        significant_text(sum.u_s, 2), correlated ? ", correlations included" : "",
        sum.degrees_of_freedom ? freedom_text(sum.degrees_of_freedom) : "infinitely many");
    if (sum.u_s > 0)
        text += fmt::format(" Expanded, for about 95 %: U = {} s with k = {}.",
                            significant_text(sum.expanded_u_s, 2), fixed_text(sum.expanded_u_s / sum.u_s, 2));
    if (chosen.spread_s)
        text += fmt::format(" Spread between its runs {} s, stated beside U and not part of it.",
                            significant_text(*chosen.spread_s, 2));
    return text;
}

/// The same budgets by drawing: of a mean, those of its runs.
std::string monte_carlo_beside(const Deciding& chosen) {
    std::vector<const decay::LevelFigure*> drawn, differing;
    for (const decay::LevelFigure* figure : chosen.figures)
        if (figure->monte_carlo) {
            drawn.push_back(figure);
            if (!figure->monte_carlo->agrees) differing.push_back(figure);
        }
    if (drawn.empty()) return "";
    const std::string by = " (JCGM 101:2008; 95 %).";
    if (!chosen.is_mean) return monte_carlo_text(*drawn.front()) + by;
    if (differing.empty())
        return fmt::format(
            "Monte Carlo and slopes agree for each of its {} runs{} For the first of them: {}.", drawn.size(),
            by, monte_carlo_text(*drawn.front()));
    return fmt::format("Monte Carlo and slopes differ for {} of its {} runs{} For the first of these: {}.",
                       differing.size(), drawn.size(), by, monte_carlo_text(*differing.front()));
}

/// How steeply the materials follow the air, as stated, each statement once with the items it is of.
std::vector<std::string> stated_steepness(const record::OrderRecord& record) {
    std::vector<std::string> sentences;
    if (!record.bench) return sentences;
    for (const judge::Influence influence : {judge::Influence::humidity, judge::Influence::temperature}) {
        const bool humidity = influence == judge::Influence::humidity;
        std::map<std::string, std::set<std::string>> items_of;  // by what is said of them
        for (const plan::Specimen& specimen : record.order.specimens)
            if (const auto said = judge::steepness_of(specimen.id, influence, record.order, record.method))
                items_of[fmt::format("a factor of ten for {} {} ({}{})", shortest_text(said->per_decade),
                                     humidity ? "% RH" : "°C", said->of_item ? "" : "the method's default, ",
                                     said->source)]
                    .insert(specimen.item);
        for (const auto& [said, items] : items_of)
            sentences.push_back(fmt::format("{}, {} {}: {}.", humidity ? "Humidity" : "Temperature",
                                            items.size() == 1 ? "item" : "items", fmt::join(items, ", "),
                                            said));
    }
    return sentences;
}

void add_help(std::vector<Block>& blocks, const record::OrderRecord& record) {
    for (const judge::RequirementOutcome& outcome : record.judgement.requirements) {
        const judge::Finding* finding = judge::hardest_conditional(outcome);
        if (!finding) continue;
        const std::vector<std::string> sentences =
            judge::advice_in_words(*finding, outcome.requirement, record.order.decision_rule);
        if (sentences.empty()) continue;
        const auto others = std::ranges::count_if(outcome.findings, [&](const judge::Finding& other) {
            return &other != finding && (other.outcome == plan::Conformity::conditional_pass ||
                                         other.outcome == plan::Conformity::conditional_fail);
        });
        std::string lead = fmt::format("What would help {}, {}: {}", outcome.requirement.id, finding->group,
                                       finding->reason);
        if (others > 0) lead += fmt::format("; {} more conditional results ask for less", others);
        blocks.emplace_back(Paragraph{lead + ".", Paragraph::Look::body, "7.8.3.1 c"});
        blocks.emplace_back(Bullets{sentences, ""});
    }
}

}  // namespace

std::optional<DecidingResult> deciding_result(const judge::Judgement& judgement) {
    std::optional<DecidingResult> chosen;
    double closest = HUGE_VAL;
    for (const judge::RequirementOutcome& outcome : judgement.requirements) {
        const double limit_s = outcome.requirement.limit_s;
        for (const judge::Finding& finding : outcome.findings) {
            if (finding.bound != judge::BoundKind::value || finding.budget.empty() || !(limit_s > 0))
                continue;
            const double distance = std::abs(*finding.value_s / limit_s - 1);
            if (distance >= closest) continue;
            closest = distance;
            chosen = DecidingResult{&finding, &outcome.requirement};
        }
    }
    return chosen;
}

void add_uncertainty(Document& document, const ReportInput& input) {
    const record::OrderRecord& record = input.record;
    auto& blocks = document.blocks;
    blocks.emplace_back(Heading{"Uncertainty"});
    auto chosen = closest_result(record.judgement);
    if (!chosen) chosen = first_measured(record.judgement);
    if (!chosen) {
        blocks.emplace_back(
            Paragraph{"No run that counts has a measured decay time, so there is no budget to show.",
                      Paragraph::Look::body, "7.8.3.1 c"});
        return;
    }
    blocks.emplace_back(
        Paragraph{chosen->lead + " Its budget, largest lines first:", Paragraph::Look::body, "7.8.3.1 c"});
    blocks.emplace_back(budget_table(chosen->budget));
    blocks.emplace_back(Paragraph{sum_text(*chosen), Paragraph::Look::body, "7.8.3.1 c"});
    if (const std::string beside = monte_carlo_beside(*chosen); !beside.empty())
        blocks.emplace_back(Paragraph{beside, Paragraph::Look::body, "7.8.3.1 c"});
    blocks.emplace_back(Paragraph{
        "Lines of one run grow smaller when more runs are averaged, those of one series when more specimens, "
        "faces or polarities are; those of the bench are common to all. A day is taken to be one of the "
        "conditions, because the day of a run is not recorded." +
            std::string(chosen->is_mean ? " u is that of one run, the sensitivity that of the mean." : ""),
        Paragraph::Look::note, ""});
    add_help(blocks, record);
    if (auto stated = stated_steepness(record); !stated.empty()) {
        blocks.emplace_back(
            Paragraph{"How steeply decay times follow the air, as stated:", Paragraph::Look::body, ""});
        blocks.emplace_back(Bullets{std::move(stated), "7.8.3.1 c"});
    }
    if (auto missing =
            judge::missing_influences(record.judgement.runs, record.order, record.method, record.bench);
        !missing.empty()) {
        blocks.emplace_back(
            Paragraph{"Not in the budget, so that U is too small by it:", Paragraph::Look::body, ""});
        blocks.emplace_back(Bullets{std::move(missing), "7.8.3.1 c"});
    }
}

}  // namespace ebbtide::report
