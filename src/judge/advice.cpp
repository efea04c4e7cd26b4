#include "judge/advice.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "basis/number_text.hpp"
#include "judge/decide.hpp"
#include "judge/uncertainty_of.hpp"

namespace ebbtide::judge {
namespace {

using plan::Conformity;

constexpr int most_runs = 1000;  // beyond, nobody would run them

bool is_conditional(Conformity outcome) {
    return outcome == Conformity::conditional_pass || outcome == Conformity::conditional_fail;
}

/// What a conditional outcome becomes when the doubt is gone.
Conformity settled(Conformity conditional) {
    return conditional == Conformity::conditional_pass ? Conformity::pass : Conformity::fail;
}

/// U of the same mean over another number of runs: what is a run's own falls, the rest stays.
double expanded_over(std::vector<decay::Contribution> budget, double times_runs) {
    for (decay::Contribution& line : budget) {
        if (line.scope != decay::Scope::run) continue;
        line.u /= std::sqrt(times_runs);
        if (line.degrees_of_freedom && !line.pooled) *line.degrees_of_freedom *= times_runs;
    }
    return sum_of(budget).expanded_u_s;
}

/// Smallest number of runs whose mean has a U under the wanted one.
std::optional<int> runs_for(const Finding& finding, double wanted_u_s) {
    const int now = static_cast<int>(finding.runs.size());
    const auto enough = [&](int runs) {
        return expanded_over(finding.budget, static_cast<double>(runs) / now) < wanted_u_s;
    };
    if (now >= most_runs || !enough(most_runs)) return {};
    int too_few = now, sufficient = most_runs;
    while (sufficient - too_few > 1) {
        const int middle = (too_few + sufficient) / 2;
        (enough(middle) ? sufficient : too_few) = middle;
    }
    return sufficient;
}

std::string amount(double u, const std::string& unit) {
    if (unit.empty() || unit == "1") return significant_text(100 * u, 2) + " %";
    if (unit == "s" && u < 0.1) return significant_text(1000 * u, 2) + " ms";
    return significant_text(u, 2) + " " + unit;
}

const char* made(Conformity conditional) {
    return conditional == Conformity::conditional_pass ? "make this a pass" : "make this a clear fail";
}

}  // namespace

void advise(Finding& finding, const plan::Requirement& requirement, const plan::DecisionRule& rule) {
    finding.advice.clear();
    finding.relief.reset();
    if (!is_conditional(finding.outcome) || finding.bound != BoundKind::value || finding.budget.empty())
        return;
    for (std::size_t i = 0; i < finding.budget.size(); ++i) {
        std::vector<decay::Contribution> halved = finding.budget;
        halved[i].u /= 2;
        const double expanded_u_s = sum_of(halved).expanded_u_s;
        finding.advice.push_back({finding.budget[i].source, expanded_u_s,
                                  outcome_for(*finding.value_s, expanded_u_s, requirement, rule)});
    }
    std::ranges::stable_sort(finding.advice, {}, &Advice::expanded_u_s);

    const double gap_s = std::abs(requirement.limit_s - *finding.value_s);
    if (rule.guard_s || !(rule.guard_times_U > 0) || !(gap_s > 0)) return;
    Relief relief{gap_s / rule.guard_times_U, {}};
    if (requirement.statistic == plan::Statistic::mean) relief.runs = runs_for(finding, relief.expanded_u_s);
    finding.relief = relief;
}

const Finding* hardest_conditional(const RequirementOutcome& outcome) {
    const auto share = [](const Finding& finding) {
        if (!finding.relief || !finding.expanded_u_s || !(*finding.expanded_u_s > 0)) return 0.0;
        return finding.relief->expanded_u_s / *finding.expanded_u_s;
    };
    const Finding* hardest = nullptr;
    for (const Finding& finding : outcome.findings)
        if (is_conditional(finding.outcome) && (!hardest || share(finding) < share(*hardest)))
            hardest = &finding;
    return hardest;
}

std::vector<std::string> advice_in_words(const Finding& finding, const plan::Requirement& requirement,
                                         const plan::DecisionRule& rule) {
    std::vector<std::string> sentences;
    if (!is_conditional(finding.outcome)) return sentences;
    if (finding.bound == BoundKind::value && rule.guard_s)
        sentences.push_back(fmt::format(
            "The guard band is agreed as {} s whatever the uncertainty: a smaller U does not change this.",
            shortest_text(*rule.guard_s)));
    const Conformity wanted = settled(finding.outcome);
    const auto now = [&](const Advice& advice) {
        const auto line = std::ranges::find(finding.budget, advice.source, &decay::Contribution::source);
        return amount(line->u, line->unit);
    };
    bool one_does = false;
    for (const Advice& advice : finding.advice) {
        if (advice.outcome != wanted) break;
        one_does = true;
        sentences.push_back(
            fmt::format("Halving the uncertainty of {} (now {}) would bring U to {} s and {}.", advice.source,
                        now(advice), significant_text(advice.expanded_u_s, 2), made(finding.outcome)));
    }
    if (finding.relief) {
        if (!one_does) {
            const double all_u_s = *finding.expanded_u_s / 2;
            sentences.push_back(fmt::format(
                "Halving one source is not enough: {} (now {}) helps most and would bring U to {} s; with "
                "all "
                "of them halved U would be {} s, {}.",
                finding.advice.front().source, now(finding.advice.front()),
                significant_text(finding.advice.front().expanded_u_s, 2), significant_text(all_u_s, 2),
                all_u_s < finding.relief->expanded_u_s ? "which is enough" : "still too much"));
        }
        sentences.push_back(fmt::format(
            "In all, U must fall from {} s to under {} s to {}.", significant_text(*finding.expanded_u_s, 2),
            significant_text(finding.relief->expanded_u_s, 2), made(finding.outcome)));
        if (finding.relief->runs)
            sentences.push_back(
                fmt::format("A mean of {} runs instead of {}, all else as it is, would do it.",
                            *finding.relief->runs, finding.runs.size()));
        else if (requirement.statistic == plan::Statistic::mean)
            sentences.emplace_back(
                "More replicates alone would not do it: too much of U is common to all runs.");
    } else if (finding.bound == BoundKind::value && finding.value_s == requirement.limit_s) {
        sentences.emplace_back("The value lies at the limit itself: no smaller U settles it.");
    }
    if (finding.outcome == Conformity::conditional_fail)
        sentences.emplace_back(
            "No measurement turns a value beyond its limit into a pass; a smaller U can only remove the "
            "doubt.");
    return sentences;
}

}  // namespace ebbtide::judge
