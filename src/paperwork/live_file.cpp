// Runs of an order that were heard live. docs/formats/live.md explains every key.

#include <fmt/format.h>

#include <algorithm>
#include <map>
#include <set>

#include "paperwork/document.hpp"
#include "paperwork/paperwork.hpp"
#include "paperwork/polarity_words.hpp"
#include "paperwork/table_reader.hpp"

namespace ebbtide::paperwork {
namespace {

template <class Rows>
std::string id_among(TableReader& table, std::string_view key, const Rows& rows) {
    std::string id = table.id(key);
    if (!id.empty() && std::ranges::find(rows, id, &Rows::value_type::id) == rows.end())
        table.problem(key, fmt::format("the order knows no '{}'", shortened(id)),
                      "Describe it in the order, or correct the place");
    return id;
}

/// The place of a run; nothing where the table names none, and the run then belongs to no place of the plan.
std::optional<plan::RunKey> place_in(TableReader& table, const plan::Order& order) {
    if (!table.has("specimen")) return {};
    plan::RunKey key;
    key.specimen = id_among(table, "specimen", order.specimens);
    if (table.has("face")) key.face = table.id("face");
    key.conditions = id_among(table, "conditions", order.conditions);
    key.polarity = polarity_in(table).value_or(plan::Polarity::positive);
    key.replicate = table.whole("replicate", 1, 1000);
    return key;
}

/// What hung in the clamps of a reference run, and the key of that run but for its number.
std::optional<plan::Mounted> reference_in(TableReader& table, const plan::Order& order, plan::RunKey& key) {
    using plan::Mounted;
    std::vector<std::pair<std::string_view, Mounted>> words;
    for (const Mounted one : plan::all_mounted) words.emplace_back(plan::name_of(one), one);
    const auto mounted = table.choice<Mounted>("reference", words);
    if (table.has("specimen"))
        table.problem("specimen", "'specimen' stands in a run without specimen", "Take one of the two out");
    key.specimen = plan::label_of(mounted.value_or(Mounted::nothing));
    key.conditions = id_among(table, "conditions", order.conditions);
    key.polarity = polarity_in(table).value_or(plan::Polarity::positive);
    return mounted;
}

/// What a [[recording]] and a [[correction]] say alike.
struct Entry {
    std::string file;
    std::optional<plan::RunKey> key;
    std::optional<plan::Mounted> reference;  ///< of a [[recording]]
    std::string set_aside, retest_cause;
    bool counts = true;
    std::string run;            ///< of a [[recording]]
    std::optional<Instant> at;  ///< when that was entered
};

Entry entry(TableReader& table, const plan::Order& order) {
    Entry out;
    out.file = table.file("file");
    out.key = place_in(table, order);
    out.set_aside = table.text_or("set_aside", "");
    out.retest_cause = table.text_or("retest_cause", "");
    out.counts = table.truth_or("counts", true);
    return out;
}

/// The last correction holds, key by key.
void correct(Entry& entry, const Entry& correction) {
    if (correction.key) {
        // Whether it counts, and a cause to repeat, belong to the place.
        entry.key = correction.key;
        entry.reference.reset();
        entry.counts = correction.counts;
        entry.retest_cause.clear();
    }
    if (!correction.set_aside.empty()) entry.set_aside = correction.set_aside;
    if (!correction.retest_cause.empty()) entry.retest_cause = correction.retest_cause;
}

std::vector<HeardRun> live(TableReader& top, const plan::Order& order) {
    if (const std::string id = top.id("order"); !id.empty() && id != order.id)
        top.problem("order", fmt::format("these runs were heard for order '{}'", shortened(id)),
                    fmt::format("The order beside it is '{}'", shortened(order.id)));
    std::vector<Entry> entries;
    std::vector<int> lines;
    std::map<std::string, std::size_t> number_of;
    for (TableReader& table : top.tables_or_none("recording")) {
        entries.push_back(entry(table, order));
        lines.push_back(table.line());
        Entry& heard = entries.back();
        heard.at = table.optional_instant("heard");
        static_cast<void>(table.text_or("source", ""));
        heard.run = table.id("run");
        if (table.has("reference")) heard.reference = reference_in(table, order, heard.key.emplace());
        if (!number_of.emplace(entries.back().file, entries.size() - 1).second)
            table.problem("file", "this file stands above already", "List a recording once");
    }
    for (TableReader& table : top.tables_or_none("correction")) {
        const Entry correction = entry(table, order);
        static_cast<void>(table.optional_instant("at"));
        // For those who read it; files of before have neither.
        static_cast<void>(table.text_or("by", ""));
        static_cast<void>(table.text_or("why", ""));
        const auto found = number_of.find(correction.file);
        if (found == number_of.end())
            table.problem("file", fmt::format("no [[recording]] has the file '{}'", correction.file),
                          "Name the file of the run that is corrected");
        else
            correct(entries[found->second], correction);
    }
    std::set<plan::RunKey> seen;
    for (const plan::PlannedRecording& listed : order.recordings)
        for (const plan::PlannedRun& run : listed.runs) seen.insert(run.key);
    std::vector<HeardRun> out;
    for (std::size_t i = 0; i < entries.size(); ++i) {
        const Entry& heard = entries[i];
        HeardRun run{{}, heard.run, heard.counts};
        run.recording.file = heard.file;
        run.recording.line = lines[i];
        run.recording.heard = heard.at;
        if (heard.reference) {
            plan::RunKey key = *heard.key;
            while (!seen.insert(key).second) ++key.replicate;
            run.recording.runs.push_back({key, heard.set_aside, "", true, heard.reference});
        } else if (heard.key) {
            const bool repeats = !seen.insert(*heard.key).second;
            if (repeats && heard.retest_cause.empty())
                top.problem("recording",
                            fmt::format("{}: the run '{}' stands above already", heard.file,
                                        shortened(heard.key->label())),
                            "Give its 'retest_cause' in a [[correction]], or another place");
            // What it repeated may have been moved to another place since.
            run.recording.runs.push_back({*heard.key, heard.set_aside, repeats ? heard.retest_cause : ""});
        }
        out.push_back(std::move(run));
    }
    return out;
}

}  // namespace

Result<std::vector<HeardRun>> parse_live(std::string_view toml, const std::string& name,
                                         const plan::Order& order) {
    return read_document<std::vector<HeardRun>>(
        toml, name, "live", [&order](TableReader& top, const Node&) { return live(top, order); });
}

}  // namespace ebbtide::paperwork
