#include <fmt/format.h>

#include <algorithm>

#include "basis/number_text.hpp"
#include "report/chapters.hpp"
#include "report/words.hpp"

namespace ebbtide::report {
namespace {

/// Empty for a demand with one requirement; else that any one of several will do.
std::string alternatives(const plan::Specification& specification, const judge::RequirementOutcome& outcome) {
    for (const plan::Demand& demand : specification.demands)
        if (demand.id == outcome.demand && demand.any_of.size() > 1)
            return fmt::format("One of {} alternatives of demand {}; any one of them is enough.",
                               demand.any_of.size(), demand.id);
    return "";
}

std::string optional_text(const std::optional<double>& value, int digits) {
    return value ? significant_text(*value, digits) : "–";
}

std::string coverage_text(const judge::Finding& finding) {
    if (!finding.expanded_u_s || !finding.u_s || !(*finding.u_s > 0)) return "–";
    return fixed_text(*finding.expanded_u_s / *finding.u_s, 2);
}

Table findings_table(const judge::RequirementOutcome& outcome) {
    Table table;
    table.clause = "7.8.6.2";
    table.columns = {
        {"of"},        {"runs", number},      {"result, s", number},        {"U at 95 %, s", number},
        {"k", number}, {"spread, s", number}, {"wrong acceptance", number}, {"outcome"},
        {"why"}};
    for (const judge::Finding& finding : outcome.findings) {
        std::string result = result_text(finding);
        if (result.ends_with(" s")) result.resize(result.size() - 2);
        table.rows.push_back(
            {Cell{finding.group, {}, false, true},
             Cell{std::to_string(finding.runs.size()), {}, false, false}, Cell{result, {}, false, false},
             Cell{optional_text(finding.expanded_u_s, 2), {}, false, false},
             Cell{coverage_text(finding), {}, false, false},
             Cell{optional_text(finding.spread_s, 2), {}, false, false},
             Cell{finding.wrong_acceptance ? probability_text(*finding.wrong_acceptance) : "–",
                  {},
                  false,
                  false},
             Cell{"", finding.outcome, false, false}, Cell{finding.reason, {}, true, false}});
    }
    return table;
}

}  // namespace

void add_conformity(Document& document, const ReportInput& input) {
    const record::OrderRecord& record = input.record;
    auto& blocks = document.blocks;
    blocks.emplace_back(Heading{"Conformity, requirement by requirement"});
    if (record.judgement.requirements.empty())
        blocks.emplace_back(Paragraph{"The specification sets no requirement, so nothing was judged.",
                                      Paragraph::Look::body, "7.8.6.2"});
    for (const judge::RequirementOutcome& outcome : record.judgement.requirements) {
        const plan::Requirement& requirement = outcome.requirement;
        Table table = findings_table(outcome);
        table.title = fmt::format("{}: {} – {}", requirement.id, plan::sentence(requirement),
                                  plan::name_of(outcome.outcome));
        std::string about =
            fmt::format("{} {}, clause: {}. Limit: {} {} s.", record.specification.id,
                        record.specification.edition, or_not_stated(requirement.clause),
                        requirement.comparison == plan::Comparison::less ? "less than" : "at most",
                        shortest_text(requirement.limit_s));
        if (const std::string choice = alternatives(record.specification, outcome); !choice.empty())
            about += " " + choice;
        if (table.rows.empty()) {
            blocks.emplace_back(
                Paragraph{table.title + ". There is no result for it.", Paragraph::Look::body, ""});
            blocks.emplace_back(Paragraph{about, Paragraph::Look::note, "7.8.6.2"});
            continue;
        }
        blocks.emplace_back(std::move(table));
        blocks.emplace_back(Paragraph{about, Paragraph::Look::note, "7.8.6.2"});
    }
    if (record.judgement.reasons.size() > reasons_on_first_page) {
        blocks.emplace_back(Paragraph{"All reasons of the statement:", Paragraph::Look::body, ""});
        blocks.emplace_back(Bullets{record.judgement.reasons, "7.8.6.2"});
    }
    std::string agreed = record.order.decision_rule.agreed.empty()
                             ? "Who agreed to the rule is not stated."
                             : "Agreed: " + record.order.decision_rule.agreed + ".";
    blocks.emplace_back(Paragraph{
        "Decision rule and its risk. Simple acceptance: each result is compared with its limit as it stands. "
        "For a "
        "result just within the limit the true value may lie beyond it with a probability of up to 50 % "
        "(ILAC-G8:09/2019, simple acceptance with guard band zero); “wrong acceptance” above is that "
        "probability for "
        "each accepted result, from its own uncertainty (JCGM 106:2012, 7.2). " +
            agreed,
        Paragraph::Look::body, "7.8.6.1"});
    blocks.emplace_back(Paragraph{
        "U is the expanded uncertainty of measurement of the stated result, U = k u. The spread is the "
        "standard deviation between the runs of a group: it says how alike they are, not how well they were "
        "measured, and the two are never merged.",
        Paragraph::Look::body, "7.8.3.1 c"});
    if (!record.specification.remarks.empty()) {
        blocks.emplace_back(Paragraph{"Remarks on the specification:", Paragraph::Look::body, ""});
        blocks.emplace_back(Bullets{record.specification.remarks, ""});
    }
}

}  // namespace ebbtide::report
