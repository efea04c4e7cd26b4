#include <fmt/format.h>

#include <algorithm>

#include "basis/number_text.hpp"
#include "report/chapters.hpp"
#include "report/rule_words.hpp"
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

/// Of a quantity that another test gave: nothing of it was measured here.
Table supplied_table(const judge::RequirementOutcome& outcome) {
    Table table;
    table.clause = "7.8.6.2";
    table.columns = {{"of"}, {"supplied", number}, {"u", number}, {"outcome"}, {"why"}};
    for (const judge::Finding& finding : outcome.findings)
        table.rows.push_back(
            {Cell{finding.group, {}, false, true}, Cell{optional_text(finding.supplied, 4), {}, false, false},
             Cell{optional_text(finding.u_supplied, 2), {}, false, false},
             Cell{"", finding.outcome, false, false}, Cell{finding.reason, {}, true, false}});
    return table;
}

std::string limit_text(const plan::Requirement& requirement) {
    const bool supplied = requirement.supplied.has_value();
    std::string text =
        fmt::format("Limit: {} {}{}.", plan::in_words(requirement.comparison),
                    shortest_text(supplied ? requirement.supplied->limit : requirement.limit_s),
                    supplied ? ", compared with results of another test" : " s");
    for (std::size_t i = 0; i < requirement.grades.size(); ++i)
        text += fmt::format("{}{} up to {} s", i == 0 ? " Classes: " : ", ", requirement.grades[i].name,
                            shortest_text(requirement.grades[i].limit_s));
    return requirement.grades.empty() ? text : text + ".";
}

Table findings_table(const judge::RequirementOutcome& outcome) {
    const auto any = [&](std::optional<double> judge::Finding::*figure) {
        return std::ranges::any_of(outcome.findings,
                                   [&](const judge::Finding& f) { return (f.*figure).has_value(); });
    };
    const bool graded = !outcome.requirement.grades.empty();
    const bool guarded = any(&judge::Finding::guard_s), accepted = any(&judge::Finding::wrong_acceptance),
               rejected = any(&judge::Finding::wrong_rejection);
    Table table;
    table.clause = "7.8.6.2";
    table.columns = {
        {"of"}, {"runs", number}, {"result, s", number}, {"U at 95 %, s", number}, {"k", number}};
    if (guarded) table.columns.push_back({"w, s", number});
    table.columns.push_back({"spread, s", number});
    if (accepted) table.columns.push_back({"wrong acceptance", number});
    if (rejected) table.columns.push_back({"wrong rejection", number});
    if (graded) table.columns.push_back({"class"});
    table.columns.push_back({"outcome"});
    table.columns.push_back({"why"});
    const auto chance = [](const std::optional<double>& probability) {
        return Cell{probability ? probability_text(*probability) : "–", {}, false, false};
    };
    for (const judge::Finding& finding : outcome.findings) {
        std::string result = result_text(finding);
        if (result.ends_with(" s")) result.resize(result.size() - 2);
        std::vector<Cell> row{{finding.group, {}, false, true},
                              {std::to_string(finding.runs.size()), {}, false, false},
                              {result, {}, false, false},
                              {optional_text(finding.expanded_u_s, 2), {}, false, false},
                              {coverage_text(finding), {}, false, false}};
        if (guarded) row.push_back({optional_text(finding.guard_s, 2), {}, false, false});
        row.push_back({optional_text(finding.spread_s, 2), {}, false, false});
        if (accepted) row.push_back(chance(finding.wrong_acceptance));
        if (rejected) row.push_back(chance(finding.wrong_rejection));
        if (graded) row.push_back({finding.grade.empty() ? "none" : finding.grade, {}, false, true});
        row.push_back({"", finding.outcome, false, false});
        row.push_back({finding.reason, {}, true, false});
        table.rows.push_back(std::move(row));
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
        Table table = requirement.supplied ? supplied_table(outcome) : findings_table(outcome);
        table.title = fmt::format("{}: {} – {}", requirement.id, plan::sentence(requirement),
                                  plan::name_of(outcome.outcome));
        std::string about =
            fmt::format("{} {}, clause: {}. {}", record.specification.id, record.specification.edition,
                        or_not_stated(requirement.clause), limit_text(requirement));
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
    blocks.emplace_back(Paragraph{rule_in_full(record), Paragraph::Look::body, "7.8.6.1"});
    if (const auto risks = risks_before_the_test(record.judgement); !risks.empty()) {
        blocks.emplace_back(
            Paragraph{"Risk of the rule before the test, from the history that the order gives "
                      "(JCGM 106:2012, 9.5):",
                      Paragraph::Look::body, ""});
        blocks.emplace_back(Bullets{risks, "7.8.6.1"});
    }
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
