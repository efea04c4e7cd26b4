#include <fmt/format.h>

#include <algorithm>

#include "basis/number_text.hpp"
#include "report/chapters.hpp"
#include "report/rule_words.hpp"
#include "report/words.hpp"

namespace ebbtide::report {
namespace {

std::string lines(std::initializer_list<std::string> parts) {
    std::string text;
    for (const std::string& part : parts)
        if (!part.empty()) text += (text.empty() ? "" : "\n") + part;
    return text;
}

std::string edition_text(const std::string& id, const std::string& edition) {
    return edition.empty() ? or_not_stated(id) : fmt::format("{}, edition {}", or_not_stated(id), edition);
}

std::string date_text(const std::optional<Date>& date) {
    return date ? iso_text(*date) : std::string(not_stated);
}

std::string said_of(const record::OrderRecord& record) {
    const std::string specification =
        record.specification.id.empty() ? "its specification"
                                        : edition_text(record.specification.id, record.specification.edition);
    const std::string method =
        record.method.id.empty() ? "no stated method" : edition_text(record.method.id, record.method.edition);
    switch (record.judgement.statement) {
        case plan::Conformity::pass:
            return fmt::format("The items as tested meet {}; tested by {}.", specification, method);
        case plan::Conformity::conditional_pass:
            return fmt::format(
                "As measured, the items as tested meet {}. But at least one result that decides lies closer "
                "to its "
                "limit than the margin for measurement uncertainty in the rule: the limit is met, though "
                "not by "
                "enough for the rule to let it pass outright. Whether that is good enough is for the "
                "customer to say. "
                "Tested by {}.",
                specification, method);
        case plan::Conformity::conditional_fail:
            return fmt::format(
                "As measured, the items as tested do not meet {}. But the results that decide are over their "
                "limit by "
                "less than the margin for measurement uncertainty in the rule: the limit is not met, "
                "though not by "
                "enough for the rule to call it a fail outright. What follows is for the customer to say. "
                "Tested by {}.",
                specification, method);
        case plan::Conformity::fail:
            return fmt::format("The items as tested do not meet {}; tested by {}.", specification, method);
        case plan::Conformity::void_:
            return fmt::format(
                "No statement can be made on {}: results that it needs are missing or do not count. Tested "
                "by {}.",
                specification, method);
    }
    return "";
}

const judge::Finding* deciding(const judge::RequirementOutcome& outcome) {
    const auto weight = [](const judge::Finding& f) {
        return std::pair(plan::gravity(f.outcome), f.value_s.value_or(0));
    };
    const auto found = std::ranges::max_element(outcome.findings, {}, weight);
    return found == outcome.findings.end() ? nullptr : &*found;
}

/// The first page keeps to the weightiest; all of them stand with the requirements.
std::vector<std::string> first_reasons(const std::vector<std::string>& reasons) {
    if (reasons.size() <= reasons_on_first_page) return reasons;
    std::vector<std::string> first(reasons.begin(), reasons.begin() + (reasons_on_first_page - 1));
    first.push_back(
        fmt::format("{} more reasons are listed under Conformity.", reasons.size() - first.size()));
    return first;
}

Table requirement_summary(const record::OrderRecord& record) {
    Table table;
    table.title = "What was required, and the result that decides";
    table.clause = "7.8.2.1 m";
    table.columns = {{"requirement"}, {"clause"}, {"result"}, {"U at 95 %"}};
    const bool guarded = record.order.decision_rule.kind == plan::DecisionRule::Kind::guarded;
    if (guarded) table.columns.push_back({"guard band w"});
    table.columns.push_back({"chance of error"});
    table.columns.push_back({"outcome"});
    for (const judge::RequirementOutcome& outcome : record.judgement.requirements) {
        const judge::Finding* finding = deciding(outcome);
        std::string result = "no result", uncertainty = "–", guard = "–", risk;
        if (finding != nullptr) {
            result = result_text(*finding) + "\n" + finding->group;
            if (finding->expanded_u_s) uncertainty = significant_text(*finding->expanded_u_s, 2) + " s";
            if (!finding->grade.empty()) result += "\nclass " + finding->grade;
            if (finding->guard_s) guard = significant_text(*finding->guard_s, 2) + " s";
            risk = risk_text(*finding);
        }
        std::vector<Cell> row{{plan::sentence(outcome.requirement), {}, false, true},
                              {or_not_stated(outcome.requirement.clause), {}, true, false},
                              {result, {}, false, false},
                              {uncertainty, {}, false, false}};
        if (guarded) row.push_back({guard, {}, false, false});
        row.push_back({risk.empty() ? "–" : risk, {}, false, false});
        row.push_back({"", outcome.outcome, false, true});
        table.rows.push_back(std::move(row));
    }
    return table;
}

std::string items_text(const plan::Order& order) {
    if (order.items.empty()) return std::string(not_stated);
    if (order.items.size() > 3)
        return fmt::format("{} items, {} specimens, listed below", order.items.size(),
                           order.specimens.size());
    std::string text;
    for (const plan::Item& item : order.items)
        text += fmt::format("{}{}: {}{}", text.empty() ? "" : "\n", item.id, item.description,
                            item.lot.empty() ? "" : ", lot " + item.lot);
    return text;
}

}  // namespace

void add_front(Document& document, const ReportInput& input) {
    const record::OrderRecord& record = input.record;
    const plan::Order& order = record.order;
    auto& blocks = document.blocks;

    Facts parties;
    parties.rows = {
        {"Laboratory",
         lines({or_not_stated(order.laboratory.name), order.laboratory.address, order.laboratory.contact}),
         "7.8.2.1 b"},
        {"Tested at",
         order.laboratory_location.empty() ? "the address of the laboratory" : order.laboratory_location,
         "7.8.2.1 c"}};
    parties.beside = {
        {"Customer",
         lines({or_not_stated(order.customer.name), order.customer.address, order.customer.contact}),
         "7.8.2.1 e"},
        {"Report", fmt::format("{}, revision {}", or_not_stated(order.id), order.revision), "7.8.2.1 d"}};
    blocks.emplace_back(std::move(parties));

    blocks.emplace_back(
        Statement{record.judgement.statement, said_of(record), first_reasons(record.judgement.reasons)});
    if (!record.judgement.requirements.empty()) blocks.emplace_back(requirement_summary(record));
    blocks.emplace_back(Paragraph{rule_in_short(record), Paragraph::Look::note, "7.8.6.1"});

    Facts facts;
    facts.rows = {
        {"Items", items_text(order), "7.8.2.1 g"},
        {"Method", lines({edition_text(record.method.id, record.method.edition), record.method.title}),
         "7.8.2.1 f"},
        {"Specification",
         lines({edition_text(record.specification.id, record.specification.edition),
                record.specification.title}),
         "7.8.6.2"}};
    facts.beside = {
        {"Received", date_text(order.received), "7.8.2.1 h"},
        {"Sampled", date_text(order.sampled), "7.8.2.1 h"},
        {"Tested",
         order.tested_from == Date{} ? std::string(not_stated)
         : order.tested_from == order.tested_to
             ? iso_text(order.tested_from)
             : fmt::format("{} to {}", iso_text(order.tested_from), iso_text(order.tested_to)),
         "7.8.2.1 i"},
        {"Issued", order.issued ? iso_text(*order.issued) : std::string("not yet"), "7.8.2.1 j"},
        {"Authorised by",
         lines({order.authorised_by.empty() ? "nobody yet" : order.authorised_by, order.authorised_role}),
         "7.8.2.1 o"}};
    blocks.emplace_back(std::move(facts));
}

}  // namespace ebbtide::report
