#include "work/ledger_entries.hpp"

#include <fmt/format.h>

#include <map>
#include <nlohmann/json.hpp>
#include <optional>

#include "ledger/canonical.hpp"
#include "work/ledger_people.hpp"

namespace ebbtide::work {
namespace {

using ledger::Draft;
using ledger::Kind;
using nlohmann::json;

/// Collects drafts; the first body that is none is remembered.
class Drafts {
  public:
    Draft make(Kind kind, std::string id, const json& body) {
        auto line = ledger::canonical_line(body);
        if (!line && !fault_) {
            fault_ = line.error();
            fault_->where = fmt::format("{}, {} {}", fault_->where, ledger::name_of(kind), id);
        }
        return {kind, std::move(id), line ? std::move(line).value() : "null", "", "", false};
    }
    [[nodiscard]] const std::optional<Error>& fault() const { return fault_; }

  private:
    std::optional<Error> fault_;
};

std::string text(const json& object, const char* key) {
    return object.at(key).get<std::string>();
}

/// Where each run was cut from, by its id.
std::map<std::string, json> recordings_by_run(const json& record) {
    std::map<std::string, json> found;
    for (const json& recording : record.at("recordings"))
        for (const json& run : recording.at("runs"))
            found.emplace(run.get<std::string>(),
                          json{{"file", recording.at("file")}, {"sha256", recording.at("sha256")}});
    return found;
}

std::map<std::string, json> items_by_specimen(const json& order) {
    std::map<std::string, json> found;
    for (const json& specimen : order.at("specimens"))
        found.emplace(text(specimen, "id"), specimen.at("item"));
    return found;
}

std::vector<Draft> run_drafts(const json& record, Drafts& drafts) {
    const json& order = record.at("order");
    const auto recordings = recordings_by_run(record);
    const auto items = items_by_specimen(order);
    std::map<std::string, int> named;
    std::vector<Draft> out;
    for (const json& run : record.at("judgement").at("runs")) {
        const std::string run_id = run.at("run").is_null() ? std::string() : text(run, "run");
        std::string id = text(order, "id") + "/" + (run_id.empty() ? text(run, "label") : run_id);
        if (const int times = ++named[id]; times > 1) id += fmt::format(" #{}", times);
        const auto recording = recordings.find(run_id);
        const auto item = items.find(text(run, "specimen"));
        json body = run;
        body["order"] = order.at("id");
        body["order_revision"] = order.at("revision");
        body["item"] = item == items.end() ? json("") : item->second;
        body["recording"] = recording == recordings.end() ? json() : recording->second;
        for (const char* key : {"engine_version", "settings_hash"}) body[key] = record.at(key);
        out.push_back(drafts.make(Kind::run, std::move(id), body));
    }
    return out;
}

json statement_body(const json& record, const std::string& record_sha256, const std::set<std::string>& kept,
                    const std::vector<Draft>& runs) {
    const json &order = record.at("order"), &bench = record.at("bench");
    json items = json::array(), files = json::array(), run_ids = json::array();
    for (const json& item : order.at("items")) items.push_back(part_of(item, {"id", "description", "lot"}));
    for (const json& input : record.at("inputs")) {
        (void)text(input, "name");
        json file = part_of(input, {"role", "name", "sha256", "bytes"});
        file["kept"] = kept.contains(text(input, "sha256"));
        files.push_back(std::move(file));
    }
    for (const Draft& run : runs) run_ids.push_back(run.id);
    json body = part_of(record.at("judgement"), {"statement", "reasons", "cautions", "requirements"});
    body.update(part_of(order, {"tested_from", "tested_to", "issued"}));
    body.update(part_of(record, {"engine_version", "settings_hash"}));
    body["made"] = text(record, "made");
    body["order"] = order.at("id");
    body["order_revision"] = order.at("revision");
    body["customer"] = order.at("customer").at("name");
    body["items"] = std::move(items);
    body["method"] = part_of(record.at("method"), {"id", "edition"});
    body["specification"] = part_of(record.at("specification"), {"id", "edition"});
    body["bench"] = bench.is_null() ? json() : part_of(bench, {"id", "revision"});
    body["runs"] = std::move(run_ids);
    body["files"] = std::move(files);
    body["record"] = record_sha256;
    return body;
}

RecordDrafts all_drafts(const json& record, const std::string& record_sha256,
                        const std::set<std::string>& kept, Drafts& drafts) {
    const json& order = record.at("order");
    RecordDrafts out;
    out.order = text(order, "id");
    const auto document = [&](Kind kind, const json& body, const char* second) {
        out.documents.push_back(drafts.make(kind, text(body, "id") + ", " + text(body, second), body));
    };
    document(Kind::method, record.at("method"), "edition");
    document(Kind::specification, record.at("specification"), "edition");
    if (const json& bench = record.at("bench"); !bench.is_null()) document(Kind::bench, bench, "revision");
    if (const json& bench = record.at("bench"); !bench.is_null())
        for (const json& one : bench.at("calibrations"))
            out.calibrations.push_back(drafts.make(
                Kind::calibration, text(one, "equipment") + ", " + text(one, "certificate"), one));
    std::set<std::string> people;
    for (const char* role : {"tested_by", "authorised_by"})
        if (const std::string name = text(order, role); !name.empty() && people.insert(name).second)
            out.people.push_back(drafts.make(Kind::person, name, person_body(name, "")));
    out.documents.push_back(drafts.make(Kind::order, out.order, order));
    out.runs = run_drafts(record, drafts);
    out.statement =
        drafts.make(Kind::statement, out.order, statement_body(record, record_sha256, kept, out.runs));
    return out;
}

}  // namespace

json part_of(const json& object, std::initializer_list<const char*> keys) {
    json part = json::object();
    for (const char* key : keys) part[key] = object.at(key);
    return part;
}

std::string text_at(const json& document, const char* pointer) {
    const json::json_pointer place(pointer);
    if (!document.contains(place) || !document.at(place).is_string()) return {};
    return document.at(place).get<std::string>();
}

Result<RecordDrafts> drafts_of(const json& record, const std::string& record_sha256,
                               const std::set<std::string>& kept) {
    Drafts drafts;
    try {
        auto out = all_drafts(record, record_sha256, kept, drafts);
        if (drafts.fault()) return *drafts.fault();
        return out;
    } catch (const json::exception& fault) {
        // A record may come out of a report that anybody changed: what it lacks is found by asking for it.
        return Error{Fault::bad_input, fmt::format("lacks something that a record has ({})", fault.what()),
                     "record.json", "Give a report written by this program"};
    }
}

Result<std::vector<ledger::Entry>> standing_runs(ledger::Database& ledger, const std::string& order) {
    auto standing = ledger::standing(ledger, Kind::run, order + "/");
    if (!standing) return standing.error();
    std::erase_if(standing.value(), [&](const ledger::Entry& run) {
        return json::parse(run.body, nullptr, false).value("order", json()) != order;
    });
    return standing;
}

}  // namespace ebbtide::work
