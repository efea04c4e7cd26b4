// Taking an order in, and what became known of its conditions.

#include "server/fields.hpp"
#include "server/handlers.hpp"
#include "server/order_json.hpp"
#include "server/read_order.hpp"
#include "work/intake.hpp"
#include "work/order_edit.hpp"

namespace ebbtide::server {
namespace {

using nlohmann::json;

plan::Party party_in(Fields fields) {
    return {fields.text("name"), fields.text("address"), fields.text_or("contact")};
}

plan::DecisionRule rule_in(Fields fields) {
    plan::DecisionRule rule;
    const std::string kind = fields.text("kind");
    if (kind != "simple" && kind != "guarded")
        fields.refuse("there is no such rule", "kind", "Send simple or guarded");
    rule.kind = kind == "guarded" ? plan::DecisionRule::Kind::guarded : plan::DecisionRule::Kind::simple;
    const auto times = fields.number("guard_times_U"), seconds = fields.number("guard_s");
    if (rule.kind == plan::DecisionRule::Kind::simple && (times || seconds))
        fields.refuse("a simple rule has no guard band", "kind", "Send guarded, or leave the guard band out");
    if (times && seconds)
        fields.refuse("a guard band is so many times U, or seconds", "guard_s", "Send one of the two");
    rule.guard_times_U = times.value_or(1);
    rule.guard_s = seconds;
    rule.agreed = fields.text("agreed");
    return rule;
}

plan::Item item_in(Fields fields) {
    plan::Item item;
    item.id = fields.text("id");
    item.description = fields.text("description");
    item.lot = fields.text_or("lot");
    item.supplier = fields.text_or("supplier");
    item.condition_on_receipt = fields.text("condition_on_receipt");
    Fields steep = fields.object("sensitivity");
    item.sensitivity = {steep.number("humidity_percent_per_decade"), steep.number("temperature_C_per_decade"),
                        steep.text_or("source")};
    return item;
}

plan::Specimen specimen_in(Fields fields) {
    return {fields.text("id"), fields.text("item"), fields.text_or("direction"), fields.text_or("place"),
            fields.text("state")};
}

plan::TestConditions conditions_in(Fields fields) {
    return {fields.text("id"), fields.number("relative_humidity_percent"), fields.number("temperature_C"),
            fields.instant("conditioned_from"), fields.instant("conditioned_to")};
}

plan::Citation citation_in(Fields fields) {
    return {fields.text("file"), fields.text_or("edition")};
}

Date day_in(Fields& fields, const char* key) {
    const auto day = fields.date(key);
    if (!day) fields.refuse("a day is missing", key, "Send it as 2026-03-14");
    return day.value_or(Date{});
}

void read_dates(Fields fields, plan::Order& order) {
    order.sampled = fields.date("sampled");
    order.received = fields.date("received");
    order.due = fields.date("due");
    order.tested_from = day_in(fields, "tested_from");
    order.tested_to = day_in(fields, "tested_to");
}

/// The order as the fields have it, but for its laboratory.
plan::Order order_in(Fields& fields) {
    plan::Order order;
    order.id = fields.text("id");
    order.title = fields.text("title");
    order.customer = party_in(fields.object("customer"));
    order.method = citation_in(fields.object("method"));
    order.specification = citation_in(fields.object("specification"));
    order.decision_rule = rule_in(fields.object("decision_rule"));
    read_dates(fields.object("dates"), order);
    order.tested_by = fields.object("people").text("tested_by");
    Fields sampling = fields.object("sampling");
    order.sampled_by = sampling.text_or("by");
    order.sampling_plan = sampling.text_or("plan");
    for (const Fields& one : fields.objects("items")) order.items.push_back(item_in(one));
    for (const Fields& one : fields.objects("specimens")) order.specimens.push_back(specimen_in(one));
    for (const Fields& one : fields.objects("conditions")) order.conditions.push_back(conditions_in(one));
    order.deviations = fields.texts("deviations");
    return order;
}

}  // namespace

Reply take_in_order(const Call& call) {
    Fields fields(call.request);
    work::Intake intake{fields.text_or("key"), order_in(fields), fields.text_or("bench")};
    const std::string like = fields.text_or("like");
    const bool own_laboratory = fields.has("laboratory");
    if (own_laboratory) {
        Fields laboratory = fields.object("laboratory");
        intake.order.laboratory = party_in(laboratory);
        intake.order.laboratory_location = laboratory.text_or("location");
    } else if (like.empty()) {
        fields.refuse("'laboratory' is missing", "laboratory",
                      "Send it, or name an order that is like this one");
    }
    if (const auto problem = fields.problem()) return refused(*problem);
    if (!like.empty()) {
        const auto at = order_named(call.desk, like);
        if (!at) return at.instead;
        const auto model = read_order(at->key, at->folder);
        if (!model) return conflict(model.error());
        const plan::Order& other = model->documents.order;
        if (!own_laboratory) {
            intake.order.laboratory = other.laboratory;
            intake.order.laboratory_location = other.laboratory_location;
        }
        if (intake.bench.empty() && !other.bench_file.empty()) {
            auto bench = work::folder_files(at->folder)->text(other.bench_file);
            if (!bench) return conflict(bench.error());
            intake.bench = std::move(bench).value();
        }
    }
    const auto made = work::take_in(call.desk.folder, std::move(intake));
    if (!made) return refused(made.error());
    return json_reply({{"schema", "ebbtide.page-made/1"}, {"key", made->key}, {"files", made->files}}, 201);
}

Reply enter_order_conditions(const Call& call) {
    Fields fields(call.request);
    const plan::TestConditions known = conditions_in(fields);
    if (const auto problem = fields.problem()) return refused(*problem);
    const auto at = order_named(call);
    if (!at) return at.instead;
    if (call.bench.works_on && call.bench.works_on() == at->key)
        return conflict({Fault::bad_input, "the order is being worked on at the bench", at->key,
                         "Enter it when the session has ended"});
    const auto entered =
        work::enter_conditions(at->folder,
                               {known.id, known.relative_humidity_percent, known.temperature_C,
                                known.conditioned_from, known.conditioned_to},
                               call.now());
    if (!entered) return refused(entered.error());
    const auto read = read_order(at->key, at->folder);
    if (!read) return conflict(read.error());
    json conditions = json::array();
    for (const plan::TestConditions& one : read->documents.order.conditions)
        conditions.push_back({{"id", one.id},
                              {"relative_humidity_percent",
                               one.relative_humidity_percent ? json(*one.relative_humidity_percent) : json()},
                              {"temperature_C", one.temperature_C ? json(*one.temperature_C) : json()},
                              {"conditioned_from", instant_json(one.conditioned_from)},
                              {"conditioned_to", instant_json(one.conditioned_to)}});
    return json_reply(
        {{"schema", "ebbtide.page-conditions/1"}, {"key", at->key}, {"conditions", std::move(conditions)}});
}

}  // namespace ebbtide::server
