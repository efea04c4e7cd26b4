// Judgements and whole records as JSON.

#include "basis/sha256.hpp"
#include "record/json.hpp"

namespace ebbtide::record {
namespace {

using nlohmann::json;

json json_of(const judge::JudgedRun& run) {
    json flags = json::array();
    for (const plan::Flag& flag : run.flags) flags.push_back(record::json_of(flag));
    json figures;
    if (run.figures) {
        figures = record::json_of(*run.figures);
        figures["run"] = run.run_id;
    }
    return {{"specimen", run.key.specimen},
            {"face", run.key.face},
            {"conditions", run.key.conditions},
            {"polarity", plan::sign_of(run.key.polarity)},
            {"replicate", run.key.replicate},
            {"label", run.key.label()},
            {"run", run.run_id.empty() ? json() : json(run.run_id)},
            {"figures", std::move(figures)},
            {"flags", std::move(flags)},
            {"counts", run.counts},
            {"fails", run.fails},
            {"without_specimen", run.without_specimen}};
}

const char* name_of(judge::BoundKind bound) {
    switch (bound) {
        case judge::BoundKind::value:
            return "value";
        case judge::BoundKind::at_least:
            return "at_least";
        case judge::BoundKind::at_most:
            return "at_most";
        case judge::BoundKind::none:
            return "none";
    }
    return "";
}

void add_budget(json& out, const judge::Finding& finding) {
    json budget = json::array(), advice = json::array();
    for (const decay::Contribution& part : finding.budget) budget.push_back(record::json_of(part));
    for (const judge::Advice& one : finding.advice)
        advice.push_back({{"source", one.source},
                          {"expanded_u_s", one.expanded_u_s},
                          {"outcome", plan::name_of(one.outcome)}});
    out["budget"] = std::move(budget);
    out["advice"] = std::move(advice);
    out["relief"] =
        finding.relief
            ? json({{"expanded_u_s", finding.relief->expanded_u_s}, {"runs", or_null(finding.relief->runs)}})
            : json();
}

json json_of(const std::optional<judge::PriorRisk>& risk) {
    if (!risk) return {};
    return {{"mean_s", risk->history.mean_s}, {"standard_deviation_s", risk->history.standard_deviation_s},
            {"source", risk->history.source}, {"u_s", risk->u_s},
            {"guard_s", risk->guard_s},       {"consumer", risk->consumer},
            {"producer", risk->producer}};
}

json classes_of(const plan::Requirement& requirement) {
    json classes = json::array();
    for (const plan::Grade& grade : requirement.grades)
        classes.push_back({{"name", grade.name}, {"limit_s", grade.limit_s}});
    return classes;
}

json json_of(const judge::RequirementOutcome& outcome) {
    json findings = json::array(), group_by = json::array();
    for (const judge::Finding& finding : outcome.findings)
        findings.push_back({{"group", finding.group},
                            {"runs", finding.runs},
                            {"bound", name_of(finding.bound)},
                            {"value_s", or_null(finding.value_s)},
                            {"u_s", or_null(finding.u_s)},
                            {"expanded_u_s", or_null(finding.expanded_u_s)},
                            {"spread_s", or_null(finding.spread_s)},
                            {"degrees_of_freedom", or_null(finding.degrees_of_freedom)},
                            {"guard_s", or_null(finding.guard_s)},
                            {"wrong_acceptance", or_null(finding.wrong_acceptance)},
                            {"wrong_rejection", or_null(finding.wrong_rejection)},
                            {"grade", finding.grade},
                            {"supplied", or_null(finding.supplied)},
                            {"u_supplied", or_null(finding.u_supplied)},
                            {"outcome", plan::name_of(finding.outcome)},
                            {"reason", finding.reason}});
    for (std::size_t i = 0; i < findings.size(); ++i) add_budget(findings[i], outcome.findings[i]);
    const plan::Requirement& requirement = outcome.requirement;
    for (const plan::GroupKey key : requirement.group_by) group_by.push_back(plan::name_of(key));
    json out = {{"demand", outcome.demand},
                {"id", requirement.id},
                {"clause", requirement.clause},
                {"sentence", plan::sentence(requirement)},
                {"level", requirement.level.value},
                {"statistic", plan::name_of(requirement.statistic)},
                {"group_by", std::move(group_by)},
                {"comparison", plan::name_of(requirement.comparison)},
                {"limit_s", requirement.limit_s},
                {"classes", classes_of(requirement)},
                {"quantity", json()},
                {"limit", json()},
                {"outcome", plan::name_of(outcome.outcome)},
                {"findings", std::move(findings)},
                {"prior_risk", json_of(outcome.prior_risk)}};
    if (requirement.supplied) {
        for (const char* of_decay_times : {"level", "statistic", "limit_s"}) out[of_decay_times] = json();
        out["quantity"] = requirement.supplied->quantity;
        out["limit"] = requirement.supplied->limit;
    }
    return out;
}

}  // namespace

json json_of(const judge::Judgement& judgement) {
    json runs = json::array(), requirements = json::array();
    for (const judge::JudgedRun& run : judgement.runs) runs.push_back(json_of(run));
    for (const judge::RequirementOutcome& outcome : judgement.requirements)
        requirements.push_back(json_of(outcome));
    return {{"statement", plan::name_of(judgement.statement)},
            {"reasons", judgement.reasons},
            {"cautions", judgement.cautions},
            {"runs", std::move(runs)},
            {"requirements", std::move(requirements)}};
}

json json_of(const OrderRecord& record) {
    json inputs = json::array(), recordings = json::array();
    for (const InputFile& input : record.inputs)
        inputs.push_back(
            {{"role", input.role}, {"name", input.name}, {"sha256", input.sha256}, {"bytes", input.bytes}});
    for (const RecordingRecord& recording : record.recordings) {
        json channels = json::array(), notices = json::array();
        for (const auto& channel : recording.channels) channels.push_back(json_of(channel));
        for (const auto& notice : recording.notices) notices.push_back(json_of(notice));
        recordings.push_back({{"file", recording.file},
                              {"sha256", recording.sha256},
                              {"bytes", recording.bytes},
                              {"format", recording.format},
                              {"dialect", recording.dialect},
                              {"channels", std::move(channels)},
                              {"notices", std::move(notices)},
                              {"runs", recording.runs},
                              {"kept_by_runs", recording.kept_by_runs}});
    }
    return {{"schema", "ebbtide.record/1"},
            {"engine_version", record.engine_version},
            {"settings_hash", record.settings_hash},
            {"made", iso_text(record.made)},
            {"order", json_of(record.order)},
            {"method", json_of(record.method)},
            {"specification", json_of(record.specification)},
            {"bench", record.bench ? json_of(*record.bench) : json()},
            {"terms", json_of(record.terms)},
            {"amended", record.amended},
            {"inputs", std::move(inputs)},
            {"recordings", std::move(recordings)},
            {"judgement", json_of(record.judgement)}};
}

std::string settings_hash(const plan::Order& order, const plan::Method& method,
                          const plan::Specification& specification, const std::optional<plan::Bench>& bench) {
    return sha256_hex(canonical_text({{"order", json_of(order)},
                                      {"method", json_of(method)},
                                      {"specification", json_of(specification)},
                                      {"bench", bench ? json_of(*bench) : json()}}));
}

}  // namespace ebbtide::record
