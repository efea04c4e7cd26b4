// Orders. docs/formats/order.md explains every key.

#include <fmt/format.h>

#include <set>

#include "paperwork/amendment.hpp"
#include "paperwork/channel_table.hpp"
#include "paperwork/decision_rule.hpp"
#include "paperwork/document.hpp"
#include "paperwork/paperwork.hpp"
#include "paperwork/polarity_words.hpp"
#include "paperwork/ranges.hpp"
#include "paperwork/recording_folders.hpp"
#include "paperwork/sensitivity.hpp"
#include "paperwork/supplied_results.hpp"
#include "paperwork/table_reader.hpp"

namespace ebbtide::paperwork {
namespace {

/// Ids of one kind, as they are claimed; what refers to them is checked against it.
class Ids {
  public:
    explicit Ids(std::string_view kind) : kind_(kind) {}

    std::string claimed(TableReader& table) {
        std::string id = table.id("id");
        if (id.empty()) return id;
        for (const plan::Mounted mounted : plan::all_mounted)
            if (id == plan::label_of(mounted))
                table.problem("id", fmt::format("'{}' stands for a run without one", id),
                              "Choose another name");
        if (known_.insert(id).second)
            in_order_.push_back(id);
        else
            table.problem("id", fmt::format("two [[{}]] have the id '{}'", kind_, shortened(id)),
                          "Names must differ");
        return id;
    }

    std::string referred(TableReader& table, std::string_view key) const {
        std::string id = table.id(key);
        if (!id.empty() && !known_.contains(id))
            table.problem(key, fmt::format("no [[{}]] has the id '{}'", kind_, shortened(id)),
                          table.suggestion(id, in_order_, fmt::format("Describe it under [[{}]]", kind_)));
        return id;
    }

  private:
    std::string kind_;
    std::set<std::string> known_;
    std::vector<std::string> in_order_;
};

plan::Party party(TableReader& table) {
    plan::Party out;
    out.name = table.text("name");
    out.address = table.text("address");
    out.contact = table.text_or("contact", "");
    return out;
}

plan::Citation citation(TableReader table) {
    plan::Citation out;
    out.file = table.file("file");
    out.edition = table.text("edition");
    return out;
}

void people(TableReader table, plan::Order& order) {
    order.tested_by = table.text("tested_by");
    order.authorised_by = table.text_or("authorised_by", "");
    order.authorised_role = table.text_or("authorised_role", "");
}

void dates(TableReader table, plan::Order& order) {
    order.received = table.optional_date("received");
    order.sampled = table.optional_date("sampled");
    order.due = table.optional_date("due");
    order.tested_from = table.date("tested_from");
    order.tested_to = table.date("tested_to");
    order.issued = table.optional_date("issued");
    const auto in_order = [&](std::optional<Date> early, std::string_view early_key, std::optional<Date> late,
                              std::string_view late_key) {
        if (early && late && early->year != 0 && late->year != 0 && *late < *early)
            table.problem(late_key,
                          fmt::format("'dates.{}' is {}, before {}, {}", late_key, iso_text(*late), early_key,
                                      iso_text(*early)),
                          "");
    };
    in_order(order.sampled, "sampled", order.tested_from, "tested_from");
    in_order(order.received, "received", order.tested_from, "tested_from");
    in_order(order.received, "received", order.due, "due");
    in_order(order.tested_from, "tested_from", order.tested_to, "tested_to");
    in_order(order.tested_to, "tested_to", order.issued, "issued");
}

plan::TestConditions conditions(TableReader& table, Ids& ids) {
    plan::TestConditions out;
    out.id = ids.claimed(table);
    out.relative_humidity_percent = table.optional_number("relative_humidity_percent", humidity_percent);
    out.temperature_C = table.optional_number("temperature_C", temperature_C);
    out.conditioned_from = table.optional_instant("conditioned_from");
    out.conditioned_to = table.optional_instant("conditioned_to");
    if (out.conditioned_from && out.conditioned_to && *out.conditioned_to < *out.conditioned_from)
        table.problem("conditioned_to",
                      fmt::format("conditioning ends, {}, before it begins, {}",
                                  iso_text(*out.conditioned_to), iso_text(*out.conditioned_from)),
                      "");
    return out;
}

/// One key, one run: a second one is a retest with its cause, and a retest repeats a run that stands above
/// it.
void check_repeats(const plan::PlannedRun& run, TableReader& table, std::set<plan::RunKey>& seen) {
    const bool repeats = !seen.insert(run.key).second;
    if (repeats && run.retest_cause.empty())
        table.problem("specimen",
                      fmt::format("the run '{}' stands above already", shortened(run.key.label())),
                      "Count up 'replicate', or give 'retest_cause' when it repeats that run for a cause "
                      "recorded before the result was known");
    if (!repeats && !run.retest_cause.empty())
        table.problem("retest_cause",
                      fmt::format("the run '{}' has a retest cause but repeats no run above it",
                                  shortened(run.key.label())),
                      "List the original run too: it stays in the report");
}

plan::PlannedRun planned_run(TableReader& table, const Ids& specimens, const Ids& conditions,
                             std::set<plan::RunKey>& seen) {
    plan::PlannedRun out;
    out.without_specimen = table.truth_or("without_specimen", false);
    if (out.without_specimen) {
        out.key.specimen = plan::label_of(plan::Mounted::nothing);
        for (const char* key : {"specimen", "face"}) {
            static_cast<void>(table.text_or(key, ""));
            if (table.has(key))
                table.problem(key, fmt::format("'{}' stands in a run without specimen", table.full_key(key)),
                              "Take one of the two out");
        }
    } else {
        out.key.specimen = specimens.referred(table, "specimen");
        out.key.face = table.id("face");
    }
    out.key.conditions = conditions.referred(table, "conditions");
    const auto polarity = polarity_in(table);
    out.key.polarity = polarity.value_or(plan::Polarity::positive);
    out.key.replicate = table.whole_or("replicate", 1, 1000, 1);
    out.set_aside = table.text_or("set_aside", "");
    out.retest_cause = table.text_or("retest_cause", "");
    // A guessed polarity or an empty name would make two runs look alike.
    if (polarity && !out.key.specimen.empty()) check_repeats(out, table, seen);
    return out;
}

plan::PlannedRecording recording(TableReader& table, const Ids& specimens, const Ids& conditions,
                                 std::set<plan::RunKey>& seen) {
    plan::PlannedRecording out;
    out.line = table.line();
    out.file = table.file("file");
    out.channels = channel_names(table);
    out.sample_interval_s = table.optional_number("sample_interval_s", positive_s);
    for (TableReader& run : table.tables("runs"))
        out.runs.push_back(planned_run(run, specimens, conditions, seen));
    return out;
}

plan::Order order(TableReader& top, const Node&) {
    plan::Order out;
    out.id = top.id("id");
    out.title = top.text("title");
    out.revision = top.whole("revision", 1, 10000);
    {
        TableReader laboratory = top.table("laboratory");
        out.laboratory = party(laboratory);
        out.laboratory_location = laboratory.text_or("location", "");
        TableReader customer = top.table("customer");
        out.customer = party(customer);
    }
    out.method = citation(top.table("method"));
    out.specification = citation(top.table("specification"));
    out.bench_file = top.file_or_none("bench");
    out.live_file = top.file_or_none("live");
    out.keep_all = top.truth_or("keep_all", false);
    if (out.keep_all && out.live_file.empty())
        top.problem("keep_all", "keeps what is heard live, and the order names no file for that",
                    "Write live = \"live.toml\", or take keep_all out");
    out.decision_rule = decision_rule(top.table("decision_rule"));
    dates(top.table("dates"), out);
    people(top.table("people"), out);
    out.amendment = amendment(top, out);
    if (auto sampling = top.optional_table("sampling")) {
        out.sampled_by = sampling->text_or("by", "");
        out.sampling_plan = sampling->text_or("plan", "");
    }
    if (auto remarks = top.optional_table("remarks")) {
        out.deviations = remarks->texts_or_none("deviations");
        out.external_providers = remarks->texts_or_none("external_providers");
        out.opinions = remarks->texts_or_none("opinions");
    }

    Ids items("item"), specimens("specimen"), conditions_ids("conditions");
    for (TableReader& table : top.tables("item")) {
        plan::Item item;
        item.id = items.claimed(table);
        item.description = table.text("description");
        item.lot = table.text_or("lot", "");
        item.supplier = table.text_or("supplier", "");
        item.condition_on_receipt = table.text("condition_on_receipt");
        if (auto own = table.optional_table("sensitivity"))
            item.sensitivity = read_sensitivity(std::move(*own));
        out.items.push_back(std::move(item));
    }
    for (TableReader& table : top.tables("specimen")) {
        plan::Specimen specimen;
        specimen.id = specimens.claimed(table);
        specimen.item = items.referred(table, "item");
        specimen.direction = table.text_or("direction", "");
        specimen.place = table.text_or("place", "");
        specimen.state = table.text("state");
        out.specimens.push_back(std::move(specimen));
    }
    for (TableReader& table : top.tables("conditions"))
        out.conditions.push_back(conditions(table, conditions_ids));
    out.supplied = supplied_results(top, out.specimens);
    std::set<plan::RunKey> seen_runs;
    std::set<std::string> seen_files;
    out.folders = recording_folders(top, out);
    for (TableReader& table : out.folders.empty() && out.live_file.empty()
                                  ? top.tables("recording")
                                  : top.tables_or_none("recording")) {
        out.recordings.push_back(recording(table, specimens, conditions_ids, seen_runs));
        const std::string& file = out.recordings.back().file;
        if (!file.empty() && !seen_files.insert(file).second)
            table.problem("file", fmt::format("the recording '{}' stands above already", shortened(file)),
                          "List a recording once, with all its runs in their order");
    }
    return out;
}

}  // namespace

Result<plan::Order> parse_order(std::string_view toml, const std::string& name) {
    return read_document<plan::Order>(toml, name, "order", order);
}

}  // namespace ebbtide::paperwork
