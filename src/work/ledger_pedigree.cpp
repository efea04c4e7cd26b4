#include "work/ledger_pedigree.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>

#include "ledger/audit.hpp"
#include "plan/level.hpp"
#include "record/json.hpp"
#include "work/ledger_entries.hpp"
#include "work/ledger_pedigree_checks.hpp"
#include "work/retention.hpp"

namespace ebbtide::work {
namespace {

using ledger::Database;
using ledger::Entry;
using ledger::Kind;
using nlohmann::json;

const json* with_id(const json& list, const json& id) {
    for (const json& one : list)
        if (one.at("id") == id) return &one;
    return nullptr;
}

json or_null(const json* found) {
    return found ? *found : json();
}

json revision_json(const Entry& entry) {
    return {{"revision", entry.revision}, {"number", entry.number}, {"at", iso_text(entry.at)},
            {"who", entry.who},           {"why", entry.why},       {"voided", entry.voided}};
}

/// The revision of an entry that stood when the statement was written, and those after it; null when it is
/// not kept.
Result<json> entry_json(Database& ledger, Kind kind, const std::string& id, const Entry& statement) {
    const auto revisions = ledger::revisions(ledger, kind, id);
    if (!revisions) return revisions.error();
    const Entry* stood = nullptr;
    json later = json::array();
    for (const Entry& one : *revisions) {
        if (one.number <= statement.number)
            stood = &one;
        else
            later.push_back(revision_json(one));
    }
    if (!stood) return json();
    const auto link = ledger::link_of(ledger, *stood);
    if (!link) return link.error();
    json entry = revision_json(*stood);
    entry.update({{"kind", ledger::name_of(kind)},
                  {"id", id},
                  {"sha256", stood->sha256},
                  {"link", *link},
                  {"later", std::move(later)}});
    return entry;
}

/// Collects what the ledger answers, where there is one; the first error is remembered.
class Pedigree {
  public:
    Pedigree(Database* ledger, const FigurePlace& place) : ledger_(ledger), place_(place) {}

    json entry(Kind kind, const std::string& id) {
        return ledger_ ? kept(entry_json(*ledger_, kind, id, statement())) : json();
    }

    /// What was kept of a file that the order rests on.
    json file(const json& name, const json& sha256) {
        for (const json& file : place_.body.at("files")) {
            if (file.at("name") != name || file.at("sha256") != sha256) continue;
            json out = part_of(file, {"name", "sha256", "bytes"});
            out["segment"] = segment(sha256.get<std::string>());
            return out;
        }
        return json();
    }
    json file_of_role(const char* role) {
        for (const json& file : place_.body.at("files"))
            if (file.at("role") == role) return this->file(file.at("name"), file.at("sha256"));
        return json();
    }
    json document(const char* role, Kind kind, const json& body, const char* second,
                  std::initializer_list<const char*> keys) {
        json out = part_of(body, keys);
        out["file"] = file_of_role(role);
        out["entry"] =
            entry(kind, body.at("id").get<std::string>() + ", " + body.at(second).get<std::string>());
        return out;
    }
    json bench();
    json people();
    json run(std::size_t i);
    json reports();

    [[nodiscard]] const std::optional<Error>& fault() const { return fault_; }

  private:
    [[nodiscard]] const Entry& statement() const { return place_.statement; }
    [[nodiscard]] const json& record() const { return place_.record; }

    json kept(Result<json> value) {
        if (value) return std::move(value).value();
        if (!fault_) fault_ = value.error();
        return {};
    }
    json segment(const std::string& sha256) {
        if (!ledger_) return {};
        const auto number = ledger_->number("SELECT number FROM segment WHERE sha256 = ?", {sha256});
        if (!number) return kept(number.error());
        return *number ? json(**number) : json();
    }
    json recording(const json& run_id);
    json checks_of(const json& recording);

    Database* ledger_;
    const FigurePlace& place_;
    std::optional<Error> fault_;
    std::map<std::string, json> checks_;  ///< about each recording, by its hash
};

json Pedigree::bench() {
    const json& bench = record().at("bench");
    if (bench.is_null()) return {};
    const json& order = record().at("order");
    json out = document(
        "bench", Kind::bench, bench, "revision",
        {"id", "revision", "sensor", "electrode", "fixture", "recorder", "hygrometer", "calibrations"});
    // Days as "2026-03-14": their order is that of their texts.
    const auto from = order.at("tested_from").get<std::string>(),
               to = order.at("tested_to").get<std::string>();
    for (json& one : out["calibrations"]) {
        one["in_force"] = one.at("done").get<std::string>() <= from && to <= one.at("due").get<std::string>();
        one["entry"] = entry(Kind::calibration, one.at("equipment").get<std::string>() + ", " +
                                                    one.at("certificate").get<std::string>());
    }
    out["checks"] = ledger_ ? kept(checks_of_statement(*ledger_, place_.body)) : json::array();
    return out;
}

json Pedigree::people() {
    json out = json::array();
    for (const auto& [key, role] :
         {std::pair{"tested_by", "tested"}, std::pair{"authorised_by", "authorised"}}) {
        const std::string name = text_at(record().at("order"), (std::string("/") + key).c_str());
        if (name.empty()) continue;
        json body;
        if (ledger_) {
            const auto newest = ledger::newest(*ledger_, Kind::person, name);
            if (!newest) return kept(newest.error());
            if (*newest) body = json::parse((*newest)->body, nullptr, false);
        }
        out.push_back({{"name", name},
                       {"role", role},
                       {"initials", body.is_object() ? body.value("initials", json()) : json()},
                       {"entry", entry(Kind::person, name)}});
    }
    return out;
}

/// Those on either side of the runs of a recording.
json Pedigree::checks_of(const json& recording) {
    if (recording.is_null() || !ledger_) return {};
    const std::string sha256 = text_at(recording, "/sha256");
    if (const auto known = checks_.find(sha256); known != checks_.end()) return known->second;
    const auto at = began(*ledger_, record(), recording);
    if (!at) return kept(at.error());
    return checks_[sha256] = kept(checks_about(*ledger_, record(), *at));
}

json Pedigree::recording(const json& run_id) {
    std::map<std::string, std::size_t> named;  // a plan may name a recording several times
    for (const json& one : record().at("recordings")) {
        const std::size_t occurrence = ++named[one.at("file").get<std::string>()];
        if (std::ranges::find(one.at("runs"), run_id) == one.at("runs").end()) continue;
        json out = part_of(one, {"file", "sha256", "bytes", "format", "dialect", "notices"});
        out["segment"] = segment(one.at("sha256").get<std::string>());
        out["runs_file"] = json();
        if (one.at("kept_by_runs") != true) return out;
        const std::string runs = kept_runs_name(one.at("file").get<std::string>(), occurrence);
        for (const json& file : place_.body.at("files"))
            if (file.at("name") == runs) out["runs_file"] = this->file(runs, file.at("sha256"));
        return out;
    }
    return {};
}

/// Where the zero was taken. A flag is raised, in words, unless that was in a proven zero state.
json zero_of(const json& figures, const json& flags) {
    json zero = part_of(figures, {"zero_V", "u_zero_V"});
    const auto unproven =
        std::ranges::find_if(flags, [](const json& flag) { return flag.at("code") == "zero_unproven"; });
    zero["proven"] = unproven == flags.end();
    zero["from"] = unproven == flags.end()
                       ? json("The quiet stretch before the charge, a zero state by the bench file.")
                       : unproven->at("message");
    return zero;
}

void add_figures(json& out, const json& figures, const json& flags) {
    const json& charging = figures.at("charging_s");
    const double release_s = figures.at("release_s").get<double>();
    out["cut"] = {{"charge_s", charging.is_null() ? json() : json(release_s - charging.get<double>())},
                  {"release_s", release_s},
                  {"end_s", release_s + figures.at("record_s").get<double>()}};
    out["zero"] = zero_of(figures, flags);
    out["release"] = part_of(figures, {"release_s", "u_release_s", "release_source", "release_delay_s"});
    out["charging"] =
        part_of(figures, {"charging_s", "electrode_V", "held_V", "initial_voltage_V", "u_initial_voltage_V",
                          "accepted_fraction", "accepted_charge", "prompt_drop", "residual_V"});
    out["levels"] = figures.at("levels");
}

json Pedigree::run(std::size_t i) {
    const json &order = record().at("order"), &run = record().at("judgement").at("runs").at(i);
    json out = part_of(run, {"run", "label", "face", "polarity", "replicate", "flags", "counts", "fails",
                             "without_specimen"});
    const json* specimen = with_id(order.at("specimens"), run.at("specimen"));
    out["specimen"] = or_null(specimen);
    const json* item = specimen ? with_id(order.at("items"), specimen->at("item")) : nullptr;
    out["item"] = item ? part_of(*item, {"id", "description", "lot", "condition_on_receipt"}) : json();
    out["conditions"] = or_null(with_id(order.at("conditions"), run.at("conditions")));
    out["recording"] = run.at("run").is_null() ? json() : recording(run.at("run"));
    out["checks"] = checks_of(out["recording"]);
    for (const char* key : {"cut", "zero", "release", "charging"}) out[key] = json();
    out["levels"] = json::array();
    if (!run.at("figures").is_null()) add_figures(out, run.at("figures"), run.at("flags"));
    out["entry"] = entry(Kind::run, place_.body.at("runs").at(i).get<std::string>());
    return out;
}

json Pedigree::reports() {
    json out = json::array();
    if (!ledger_) return out;
    const auto revisions = ledger::revisions(*ledger_, Kind::report, statement().id);
    if (!revisions) return kept(revisions.error());
    for (const Entry& one : *revisions) {
        json report = revision_json(one);
        const json body = json::parse(one.body);
        for (const char* key : {"sha256", "bytes", "compared", "differences"})
            report[key] = body.is_null() ? json() : body.at(key);
        out.push_back(std::move(report));
    }
    return out;
}

/// Keeps one level of a run's, or says which there are.
Result<Done> keep_level(json& run, const std::string& text) {
    const auto level = plan::parse_level(text);
    if (!level) {
        Error error = level.error();
        error.where = "--level";
        return error;
    }
    const char* kind = level->kind == plan::Level::Kind::fraction ? "fraction" : "absolute_V";
    json kept = json::array();
    std::string there;
    for (const json& one : run.at("levels")) {
        const double value = one.at("level").get<double>();
        there += fmt::format("{}{}{}", there.empty() ? "" : ", ", value,
                             one.at("level_kind") == "fraction" ? "" : " V");
        if (one.at("level_kind") == kind && std::abs(value - level->value) <= 1e-9 * value)
            kept.push_back(one);
    }
    if (kept.empty())
        return Error{Fault::bad_input, fmt::format("the run was not read at '{}'", text), "--level",
                     there.empty() ? "It has no figures" : "It was at: " + there};
    run["levels"] = std::move(kept);
    return Done{};
}

/// Places in the judgement of the runs that the figure rests on.
std::vector<std::size_t> runs_of(const FigurePlace& place) {
    const json& judgement = place.record.at("judgement");
    if (place.of == FigurePlace::Of::run) return {place.run};
    if (place.of == FigurePlace::Of::result)
        return judgement.at("requirements").at(place.requirement).at("findings").at(place.finding).at("runs");
    std::vector<std::size_t> all(judgement.at("runs").size());
    for (std::size_t i = 0; i < all.size(); ++i) all[i] = i;
    return all;
}

json requirements_of(const FigurePlace& place) {
    const json& requirements = place.record.at("judgement").at("requirements");
    if (place.of == FigurePlace::Of::run) return json::array();
    if (place.of == FigurePlace::Of::statement) return requirements;
    json one = requirements.at(place.requirement);
    one["findings"] = json::array({one.at("findings").at(place.finding)});
    return json::array({one});
}

const char* word_for(FigurePlace::Of of) {
    switch (of) {
        case FigurePlace::Of::statement:
            return "statement";
        case FigurePlace::Of::result:
            return "result";
        case FigurePlace::Of::run:
            return "run";
    }
    return "";
}

Result<json> composed(Database* ledger, const FigurePlace& place, const std::string& level) {
    const json& record = place.record;
    Pedigree from(ledger, place);
    json runs = json::array();
    for (const std::size_t i : runs_of(place)) runs.push_back(from.run(i));
    if (!level.empty() && place.of == FigurePlace::Of::run)
        if (const auto kept = keep_level(runs.at(0), level); !kept) return kept.error();
    json out = {{"schema", "ebbtide.ledger-pedigree/1"},
                {"of", word_for(place.of)},
                {"runs", std::move(runs)},
                {"requirements", requirements_of(place)}};
    out["order"] =
        part_of(record.at("order"), {"id", "revision", "title", "customer", "received", "sampled",
                                     "sampled_by", "sampling_plan", "tested_from", "tested_to", "issued",
                                     "tested_by", "authorised_by", "authorised_role", "deviations"});
    out["order"]["file"] = from.file_of_role("order");
    out["order"]["entry"] = from.entry(Kind::order, place.statement.id);
    out["statement"] = part_of(place.body, {"statement", "reasons", "cautions"});
    out["statement"]["entry"] = from.entry(Kind::statement, place.statement.id);
    out["decision_rule"] = record.at("order").at("decision_rule");
    out["method"] = from.document("method", Kind::method, record.at("method"), "edition",
                                  {"id", "edition", "title", "source"});
    out["specification"] = from.document("specification", Kind::specification, record.at("specification"),
                                         "edition", {"id", "edition", "title", "source"});
    out["bench"] = from.bench();
    out["people"] = from.people();
    out["reports"] = from.reports();
    for (const char* key : {"engine_version", "settings_hash", "made"}) out[key] = record.at(key);
    out["record"] = place.body.at("record");
    if (from.fault()) return *from.fault();
    return out;
}

}  // namespace

Result<json> pedigree(Database& ledger, const FigureName& name, const std::string& level) {
    const auto snapshot = ledger::Snapshot::begin(ledger);
    if (!snapshot) return snapshot.error();
    const auto place = figure_place(ledger, name);
    if (!place) return place.error();
    if (!level.empty() && place->of != FigurePlace::Of::run)
        return Error{Fault::bad_input, fmt::format("'{}' is no run", name.figure), "--level",
                     "Levels are those of a run: ORDER/RUN"};
    const auto head = ledger::head(ledger);
    if (!head) return head.error();
    try {
        auto out = composed(&ledger, *place, level);
        if (!out) return out;
        out.value()["figure"] = name.figure;
        out.value()["head"] = {{"number", head->number}, {"sha256", head->sha256}};
        return out;
    } catch (const json::exception&) {
        return Error{Fault::inconsistent, fmt::format("what is kept of '{}' is not whole", name.figure),
                     ledger.path(), "Run 'ebbtide ledger check'"};
    }
}

Result<json> pedigree_of_run(const record::OrderRecord& record, std::size_t run, const std::string& level) {
    FigurePlace place;
    place.of = FigurePlace::Of::run;
    place.run = run;
    place.record = record::json_of(record);
    const json& judgement = place.record.at("judgement");
    place.body = part_of(judgement, {"statement", "reasons", "cautions"});
    place.body["files"] = place.record.at("inputs");
    place.body["record"] = json();
    for (const judge::JudgedRun& one : record.judgement.runs) place.body["runs"].push_back(one.key.label());
    auto out = composed(nullptr, place, level);
    if (!out) return out;
    out.value()["figure"] = record.order.id + "/" + record.judgement.runs.at(run).run_id;
    out.value()["head"] = json();
    return out;
}

}  // namespace ebbtide::work
