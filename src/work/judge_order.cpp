#include "work/judge_order.hpp"

#include "judge/influences.hpp"
#include "record/json.hpp"
#include "work/amendment.hpp"

namespace ebbtide::work {

judge::Judgement judgement_of(const MeasuredOrder& measured, const plan::Terms& terms) {
    const record::OrderRecord& record = measured.judged.record;
    plan::Order order = record.order;
    order.decision_rule = plan::rule_under(terms, record.order);
    const bool other = !terms.specification.empty() && measured.other;
    return judge::judge_with_influences(
        measured.runs, order, record.method,
        plan::asked_under(terms, other ? *measured.other : record.specification), record.bench,
        measured.judged.depth.monte_carlo);
}

JudgedOrder judged_under(MeasuredOrder measured, const plan::Terms& terms) {
    record::OrderRecord& record = measured.judged.record;
    record.judgement = judgement_of(measured, terms);
    if (measured.other && !terms.specification.empty()) record.specification = std::move(*measured.other);
    record.specification = plan::asked_under(terms, std::move(record.specification));
    record.terms = terms;
    plan::Order applied = record.order;
    applied.decision_rule = plan::rule_under(terms, record.order);
    record.settings_hash = record::settings_hash(applied, record.method, record.specification, record.bench);
    return std::move(measured.judged);
}

Result<JudgedOrder> judge_order(const OrderFiles& files, Instant made, const Progress& progress,
                                const plan::Terms& terms, const Retention& retention, Depth depth) {
    auto measured = measure_order(files, made, progress, terms, retention, depth);
    if (!measured) return measured.error();
    JudgedOrder judged = judged_under(std::move(measured).value(), terms);
    if (const auto compared = compare_with_replaced(judged.record, files); !compared) return compared.error();
    return judged;
}

nlohmann::json judgement_json(const record::OrderRecord& record) {
    nlohmann::json out = record::json_of(record.judgement);
    out["schema"] = "ebbtide.judge/1";
    out["order"] = record.order.id;
    out["revision"] = record.order.revision;
    out["amended"] = record.amended;
    out["method"] = {{"id", record.method.id}, {"edition", record.method.edition}};
    out["specification"] = {{"id", record.specification.id}, {"edition", record.specification.edition}};
    return out;
}

}  // namespace ebbtide::work
