#include "work/rejudge.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <filesystem>
#include <map>

#include "basis/number_text.hpp"
#include "paperwork/paperwork.hpp"
#include "record/json.hpp"

namespace ebbtide::work {
namespace {

using plan::Conformity;

constexpr std::uint64_t largest_specification = 4u << 20;

/// The id that a requirement has without the level that the terms ask it at.
std::string plain_id(const plan::Requirement& requirement, const plan::Terms& terms) {
    for (const plan::Level& level : terms.levels)
        if (const std::string ending = " at " + level.label(); requirement.id.ends_with(ending))
            return requirement.id.substr(0, requirement.id.size() - ending.size());
    return requirement.id;
}

std::string result_of(const judge::Finding& finding) {
    if (finding.supplied) return significant_text(*finding.supplied, 4);
    if (!finding.value_s) return "";
    const std::string value = significant_text(*finding.value_s, 4) + " s";
    switch (finding.bound) {
        case judge::BoundKind::at_least:
            return "at least " + value;
        case judge::BoundKind::at_most:
            return "at most " + value;
        default:
            return value;
    }
}

/// Findings of one requirement under both terms, those whose outcome differs.
void compare_findings(const judge::RequirementOutcome& agreed, const judge::RequirementOutcome& instead,
                      std::vector<Compared>& compared) {
    const auto of_group = [](const judge::RequirementOutcome& outcome, const std::string& group) {
        const auto found = std::ranges::find(outcome.findings, group, &judge::Finding::group);
        return found == outcome.findings.end() ? nullptr : &*found;
    };
    const std::string& id = instead.requirement.id;
    for (const judge::Finding& now : instead.findings) {
        const judge::Finding* then = of_group(agreed, now.group);
        if (then && then->outcome == now.outcome) continue;
        compared.push_back({id, now.group, then ? std::optional(then->outcome) : std::nullopt, now.outcome,
                            then ? result_of(*then) : "", result_of(now)});
    }
    for (const judge::Finding& then : agreed.findings)
        if (!of_group(instead, then.group))
            compared.push_back({id, then.group, then.outcome, std::nullopt, result_of(then), ""});
}

std::vector<Compared> compare(const judge::Judgement& agreed, const judge::Judgement& instead,
                              const plan::Terms& terms) {
    std::vector<Compared> compared{{"statement", "", agreed.statement, instead.statement, "", ""}};
    // Another document may use the same id for another thing: only requirements of one document are matched.
    const bool one_document = terms.specification.empty();
    for (const judge::RequirementOutcome& then : agreed.requirements) {
        const bool still_asked =
            one_document && std::ranges::any_of(instead.requirements, [&](const auto& now) {
                return plain_id(now.requirement, terms) == then.requirement.id;
            });
        if (!still_asked) compared.push_back({then.requirement.id, "", then.outcome, std::nullopt, "", ""});
    }
    for (const judge::RequirementOutcome& now : instead.requirements) {
        const auto then = std::ranges::find_if(agreed.requirements, [&](const auto& outcome) {
            return one_document && outcome.requirement.id == plain_id(now.requirement, terms);
        });
        if (then == agreed.requirements.end()) {
            compared.push_back({now.requirement.id, "", std::nullopt, now.outcome, "", ""});
            continue;
        }
        compared.push_back({now.requirement.id, "", then->outcome, now.outcome, "", ""});
        compare_findings(*then, now, compared);
    }
    return compared;
}

nlohmann::json outcome_json(const std::optional<Conformity>& outcome) {
    return outcome ? nlohmann::json(plan::name_of(*outcome)) : nlohmann::json();
}

Error named(Error error, const char* option) {
    if (error.where.empty()) error.where = option;
    return error;
}

}  // namespace

Result<plan::Terms> terms_from(const TermsRequest& request, std::unique_ptr<OrderFiles>& files) {
    plan::Terms terms;
    if (!request.levels.empty()) {
        auto levels = plan::parse_levels_asked(request.levels);
        if (!levels) return named(levels.error(), "--levels");
        terms.levels = std::move(levels).value();
    }
    if (!request.rule.empty()) {
        auto rule = plan::parse_rule(request.rule);
        if (!rule) return named(rule.error(), "--rule");
        terms.decision_rule = std::move(rule).value();
    }
    terms.specification = request.specification;
    if (!request.specification.ends_with(".toml") || files->text(request.specification).ok()) return terms;
    auto text = read_whole(request.specification, largest_specification);
    if (!text)
        return Error{Fault::bad_input,
                     fmt::format("'{}' is neither a file of the order nor one that can be read here",
                                 request.specification),
                     "--specification",
                     "Name a file of the order's folder, the path of a specification (.toml), or a shipped "
                     "one: 'ebbtide methods' lists them"};
    terms.specification = "terms/" + std::filesystem::path(request.specification).filename().string();
    const auto taken = files->text(terms.specification);
    if (taken && *taken != *text)
        return Error{Fault::bad_input,
                     fmt::format("the order holds another file of the name {}", terms.specification),
                     "--specification", "Give the specification another file name"};
    files = with_file(std::move(files), terms.specification, std::move(text).value());
    return terms;
}

Result<Rejudged> rejudge(const OrderFiles& files, const plan::Terms& terms, Instant made,
                         const Progress& progress) {
    auto measured = measure_order(files, made, progress, terms);
    if (!measured) return measured.error();
    Rejudged rejudged;
    rejudged.agreed = judgement_of(*measured, {});
    rejudged.agreed_specification = {measured->judged.record.specification.id,
                                     measured->judged.record.specification.edition};
    rejudged.judged = judged_under(std::move(measured).value(), terms);
    rejudged.compared = compare(rejudged.agreed, rejudged.judged.record.judgement, terms);
    return rejudged;
}

nlohmann::json json_of(const Rejudged& rejudged) {
    const record::OrderRecord& record = rejudged.judged.record;
    const auto side = [](const judge::Judgement& judgement, const std::string& specification,
                         const std::string& edition, const plan::DecisionRule& rule) {
        nlohmann::json out = record::json_of(judgement);
        out["specification"] = {{"id", specification}, {"edition", edition}};
        out["decision_rule"] = plan::text_of(rule);
        return out;
    };
    nlohmann::json compared = nlohmann::json::array();
    for (const Compared& line : rejudged.compared)
        compared.push_back({{"of", line.of},
                            {"group", line.group},
                            {"agreed", outcome_json(line.agreed)},
                            {"instead", outcome_json(line.instead)},
                            {"agreed_result", line.agreed_result},
                            {"instead_result", line.instead_result},
                            {"differs", line.differs()}});
    return {{"schema", "ebbtide.rejudge/1"},
            {"order", record.order.id},
            {"revision", record.order.revision},
            {"method", {{"id", record.method.id}, {"edition", record.method.edition}}},
            {"terms", record::json_of(record.terms)},
            {"agreed", side(rejudged.agreed, rejudged.agreed_specification.file,
                            rejudged.agreed_specification.edition, record.order.decision_rule)},
            {"instead", side(record.judgement, record.specification.id, record.specification.edition,
                             plan::rule_under(record.terms, record.order))},
            {"compared", std::move(compared)}};
}

}  // namespace ebbtide::work
