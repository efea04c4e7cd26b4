// Methods, specifications and orders as JSON, as understood from their files.

#include "record/json.hpp"

namespace ebbtide::record {
namespace {

using nlohmann::json;

json or_null(const std::optional<plan::Tolerance>& tolerance) {
    if (!tolerance) return {};
    return {{"nominal", tolerance->nominal}, {"plus_minus", tolerance->plus_minus}};
}
json or_null(const std::optional<Date>& date) {
    return date ? json(iso_text(*date)) : json();
}
json or_null(const std::optional<Instant>& instant) {
    return instant ? json(iso_text(*instant)) : json();
}
using record::or_null;

json json_of(const plan::Level& level) {
    return {{"kind", level.kind == plan::Level::Kind::fraction ? "fraction" : "absolute_V"},
            {"value", level.value},
            {"text", level.text}};
}

json json_of(const plan::DecayRules& rules) {
    json levels = json::array();
    for (const plan::Level& level : rules.levels) levels.push_back(json_of(level));
    const plan::ZeroFloor& floor = rules.zero_floor;
    const char* floor_kind = floor.kind == plan::ZeroFloor::Kind::none       ? "none"
                             : floor.kind == plan::ZeroFloor::Kind::fraction ? "fraction"
                                                                             : "absolute_V";
    return {{"levels", std::move(levels)},
            {"basis", plan::name_of(rules.basis)},
            {"basis_window_s", or_null(rules.basis_window_s)},
            {"basis_guard_s", rules.basis_guard_s},
            {"basis_bandwidth_s", or_null(rules.basis_bandwidth_s)},
            {"stated_initial_V", or_null(rules.stated_initial_V)},
            {"zero_floor", {{"kind", floor_kind}, {"value", floor.value}}},
            {"residual_limit_V", or_null(rules.residual_limit_V)},
            {"zero_limit_V", or_null(rules.zero_limit_V)},
            {"extrapolation_allowed", rules.extrapolation_allowed},
            {"from", rules.from ? json_of(*rules.from) : json()},
            {"clock", rules.clock == plan::DecayRules::Clock::field_step ? "field_step" : "release"}};
}

json json_of(const plan::Sensitivity& sensitivity) {
    return {{"humidity_percent_per_decade", or_null(sensitivity.humidity_percent_per_decade)},
            {"temperature_C_per_decade", or_null(sensitivity.temperature_C_per_decade)},
            {"source", sensitivity.source}};
}

json json_of(const plan::Party& party) {
    return {{"name", party.name}, {"address", party.address}, {"contact", party.contact}};
}

json or_null(const std::optional<plan::Amendment>& amendment) {
    if (!amendment) return {};
    return {{"replaces_revision", amendment->replaces_revision},
            {"replaces_issued", or_null(amendment->replaces_issued)},
            {"reason", amendment->reason},
            {"changes", amendment->changes},
            {"replaced_report", amendment->replaced_report}};
}

json json_of(const plan::DecisionRule& rule) {
    json history = json::array();
    for (const plan::History& one : rule.history)
        history.push_back({{"requirement", one.requirement},
                           {"mean_s", one.mean_s},
                           {"standard_deviation_s", one.standard_deviation_s},
                           {"source", one.source}});
    return {{"kind", plan::name_of(rule.kind)},
            {"guard_times_U", rule.guards_by_U() ? json(rule.guard_times_U) : json()},
            {"guard_s", or_null(rule.guard_s)},
            {"agreed", rule.agreed},
            {"history", std::move(history)}};
}

json json_of(const plan::RunKey& key) {
    return {{"specimen", key.specimen},
            {"face", key.face},
            {"conditions", key.conditions},
            {"polarity", plan::sign_of(key.polarity)},
            {"replicate", key.replicate}};
}

json json_of(const plan::PlannedRecording& recording) {
    json runs = json::array();
    for (const plan::PlannedRun& run : recording.runs) {
        json one = json_of(run.key);
        one["set_aside"] = run.set_aside;
        one["retest_cause"] = run.retest_cause;
        one["without_specimen"] = run.without_specimen;
        if (run.reference) one["reference"] = plan::name_of(*run.reference);
        runs.push_back(std::move(one));
    }
    return {{"file", recording.file},
            {"runs", std::move(runs)},
            {"specimen_channel", recording.channels.specimen},
            {"electrode_channel", recording.channels.electrode},
            {"marker_channel", recording.channels.marker},
            {"time_channel", recording.channels.time},
            {"sample_interval_s", or_null(recording.sample_interval_s)}};
}

json json_of(const plan::RecordingFolder& folder) {
    return {{"folder", folder.folder},
            {"names", folder.names},
            {"constants", json_of(folder.key)},
            {"specimen_channel", folder.channels.specimen},
            {"electrode_channel", folder.channels.electrode},
            {"marker_channel", folder.channels.marker},
            {"time_channel", folder.channels.time},
            {"sample_interval_s", or_null(folder.sample_interval_s)}};
}

json folders_of(const plan::Order& order) {
    json folders = json::array();
    for (const plan::RecordingFolder& folder : order.folders) folders.push_back(json_of(folder));
    return folders;
}

}  // namespace

json json_of(const plan::Method& method) {
    json consequences = json::object();
    for (const auto& [code, consequence] : method.consequences)
        consequences[std::string(plan::facts(code).name)] = plan::name_of(consequence);
    return {{"id", method.id},
            {"edition", method.edition},
            {"title", method.title},
            {"source", method.source},
            {"notice", method.notice},
            {"apparatus", plan::name_of(method.apparatus)},
            {"conditioning",
             {{"relative_humidity_percent", or_null(method.conditioning.relative_humidity_percent)},
              {"temperature_C", or_null(method.conditioning.temperature_C)},
              {"at_least_h", or_null(method.conditioning.at_least_h)},
              {"at_most_h", or_null(method.conditioning.at_most_h)}}},
            {"charging",
             {{"voltage_V", or_null(method.charging.voltage_V)},
              {"hold_s", or_null(method.charging.hold_s)},
              {"minimum_initial_V", or_null(method.charging.minimum_initial_V)},
              {"minimum_accepted_fraction", or_null(method.charging.minimum_accepted_fraction)},
              {"polarities", method.charging.polarities}}},
            {"decay", json_of(method.decay)},
            {"sensitivity", json_of(method.sensitivity)},
            {"reference_run", method.reference_run},
            {"specimens", method.specimens},
            {"replicates", method.replicates},
            {"faces", method.faces},
            {"directions", method.directions},
            {"consequences", std::move(consequences)},
            {"value_sources", method.value_sources}};
}

json json_of(const plan::Specification& specification) {
    json demands = json::array();
    for (const plan::Demand& demand : specification.demands) {
        json alternatives = json::array();
        for (const plan::Requirement& requirement : demand.any_of) {
            json group_by = json::array();
            for (const plan::GroupKey key : requirement.group_by) group_by.push_back(plan::name_of(key));
            json classes = json::array();
            for (const plan::Grade& grade : requirement.grades)
                classes.push_back({{"name", grade.name}, {"limit_s", grade.limit_s}});
            const auto& supplied = requirement.supplied;
            alternatives.push_back({{"id", requirement.id},
                                    {"clause", requirement.clause},
                                    {"level", json_of(requirement.level)},
                                    {"statistic", plan::name_of(requirement.statistic)},
                                    {"group_by", std::move(group_by)},
                                    {"comparison", plan::name_of(requirement.comparison)},
                                    {"limit_s", requirement.limit_s},
                                    {"classes", std::move(classes)},
                                    {"quantity", supplied ? json(supplied->quantity) : json()},
                                    {"limit", supplied ? json(supplied->limit) : json()}});
        }
        demands.push_back({{"id", demand.id}, {"any_of", std::move(alternatives)}});
    }
    return {{"id", specification.id},         {"edition", specification.edition},
            {"title", specification.title},   {"source", specification.source},
            {"notice", specification.notice}, {"apparatus", plan::name_of(specification.apparatus)},
            {"demands", std::move(demands)},  {"remarks", specification.remarks}};
}

json json_of(const plan::Order& order) {
    json items = json::array(), specimens = json::array(), conditions = json::array(),
         recordings = json::array();
    for (const plan::Item& item : order.items)
        items.push_back({{"id", item.id},
                         {"description", item.description},
                         {"lot", item.lot},
                         {"supplier", item.supplier},
                         {"condition_on_receipt", item.condition_on_receipt},
                         {"sensitivity", json_of(item.sensitivity)}});
    for (const plan::Specimen& specimen : order.specimens)
        specimens.push_back({{"id", specimen.id},
                             {"item", specimen.item},
                             {"direction", specimen.direction},
                             {"place", specimen.place},
                             {"state", specimen.state}});
    for (const plan::TestConditions& one : order.conditions)
        conditions.push_back({{"id", one.id},
                              {"relative_humidity_percent", or_null(one.relative_humidity_percent)},
                              {"temperature_C", or_null(one.temperature_C)},
                              {"conditioned_from", or_null(one.conditioned_from)},
                              {"conditioned_to", or_null(one.conditioned_to)}});
    for (const plan::PlannedRecording& recording : order.recordings) recordings.push_back(json_of(recording));
    json supplied = json::array();
    for (const plan::SuppliedResult& result : order.supplied)
        supplied.push_back({{"quantity", result.quantity},
                            {"specimen", result.specimen},
                            {"value", result.value},
                            {"u", result.u},
                            {"source", result.source}});
    json out = {
        {"id", order.id},
        {"title", order.title},
        {"revision", order.revision},
        {"laboratory", json_of(order.laboratory)},
        {"laboratory_location", order.laboratory_location},
        {"customer", json_of(order.customer)},
        {"method", {{"file", order.method.file}, {"edition", order.method.edition}}},
        {"specification", {{"file", order.specification.file}, {"edition", order.specification.edition}}},
        {"bench", order.bench_file},
        {"decision_rule", json_of(order.decision_rule)},
        {"items", std::move(items)},
        {"specimens", std::move(specimens)},
        {"conditions", std::move(conditions)},
        {"recordings", std::move(recordings)},
        {"supplied", std::move(supplied)},
        {"folders", folders_of(order)},
        {"received", or_null(order.received)},
        {"sampled", or_null(order.sampled)},
        {"sampled_by", order.sampled_by},
        {"sampling_plan", order.sampling_plan},
        {"tested_from", iso_text(order.tested_from)},
        {"tested_to", iso_text(order.tested_to)},
        {"issued", or_null(order.issued)},
        {"tested_by", order.tested_by},
        {"authorised_by", order.authorised_by},
        {"authorised_role", order.authorised_role},
        {"deviations", order.deviations},
        {"external_providers", order.external_providers},
        {"opinions", order.opinions},
        {"amendment", or_null(order.amendment)}};
    // Only where it is stated: the settings of orders from before there was such a day keep their hash.
    if (order.due) out["due"] = iso_text(*order.due);
    return out;
}

}  // namespace ebbtide::record
