// Files that are dropped on the page: what is in them is shown before anything is kept.

#include "record/json.hpp"
#include "server/fields.hpp"
#include "server/handlers.hpp"
#include "server/order_json.hpp"
#include "server/read_order.hpp"
#include "work/import_recording.hpp"
#include "work/live_json.hpp"

namespace ebbtide::server {
namespace {

using nlohmann::json;

constexpr std::size_t longest_name = 1000, points_of_a_trace = 200;

json flags_of(const std::vector<plan::Flag>& flags) {
    json out = json::array();
    for (const plan::Flag& flag : flags) out.push_back(record::json_of(flag));
    return out;
}

json looked_json(const HeldImport& held, const work::LookedInto& looked) {
    const record::RecordingRecord& recording = looked.file.recording;
    json channels = json::array(), notices = json::array(), runs = json::array(), traces = json::array();
    for (const auto& channel : recording.channels) channels.push_back(record::json_of(channel));
    for (const auto& notice : recording.notices) notices.push_back(record::json_of(notice));
    for (std::size_t i = 0; i < looked.file.runs.size(); ++i) {
        runs.push_back(work::json_of(looked.file.runs[i]));
        traces.push_back(trace_json(looked.file.runs[i].run_id, looked.traces[i], points_of_a_trace));
    }
    return {
        {"schema", "ebbtide.page-import/1"},
        {"id", held.id},
        {"name", held.name},
        {"bytes", held.bytes->size()},
        {"sha256", recording.sha256},
        {"recognised",
         {{"format", recording.format}, {"dialect", recording.dialect}, {"channels", std::move(channels)}}},
        {"notices", std::move(notices)},
        {"flags", flags_of(looked.file.flags)},
        {"runs", std::move(runs)},
        {"traces", std::move(traces)}};
}

}  // namespace

Reply import_file(const Call& call) {
    const std::string name = call.parameter("name"), key = call.parameter("order");
    if (name.empty() || name.size() > longest_name)
        return refused("a file has a name of at most 1000 bytes", "name", "Send ?name=FILE");
    if (call.request.body.empty()) return refused("the file is empty", "body", "Send its bytes");
    recording::ReadOptions options;
    options.time = call.parameter("time");
    options.specimen = call.parameter("specimen");
    options.electrode = call.parameter("electrode");
    options.marker = call.parameter("marker");
    if (!call.parameter("sample_interval_s").empty()) {
        const auto interval = call.number("sample_interval_s", 0, 1e-12, 1e6);
        if (!interval) return refused(interval.error());
        options.sample_interval_s = *interval;
    }
    std::optional<record::OrderRecord> order;
    if (!key.empty()) {
        const auto at = order_named(call.desk, key);
        if (!at) return at.instead;
        auto read = read_order(at->key, at->folder);
        if (!read) return conflict(read.error());
        order = std::move(read.value().documents);
    }
    const auto bytes = std::make_shared<const std::string>(call.request.body);
    const auto looked = work::look_into({name, bytes, options}, order);
    if (!looked) return refused(looked.error());
    return json_reply(looked_json(call.held.imports.hold(name, bytes, options), *looked));
}

Reply keep_import(const Call& call) {
    Fields fields(call.request);
    const std::string key = fields.text("order");
    work::KeepRequest request;
    request.order.conditions = fields.text_or("conditions");
    for (Fields& one : fields.objects("places"))
        request.runs.push_back({one.text("run"), one.index("place")});
    if (const auto problem = fields.problem()) return refused(*problem);
    const auto held = call.held.imports.named(call.names.at(0));
    if (!held) return not_found({Fault::bad_input, "no such file is held any more", "id", "Send it again"});
    const auto at = order_named(call.desk, key);
    if (!at) return at.instead;
    if (call.bench.works_on && call.bench.works_on() == at->key)
        return conflict({Fault::bad_input, "the order is being worked on at the bench", at->key,
                         "Keep the file when the session has ended"});
    request.order.folder = at->folder;
    request.order.ledger = call.desk.ledger;
    request.now = request.order.started = call.now();
    const auto kept = work::keep_runs_of({held->name, held->bytes, held->options}, request);
    if (!kept) return conflict(kept.error());
    json runs = json::array();
    for (const work::KeptRun& one : *kept) {
        const work::RunRecorded* recorded = one.recorded ? &*one.recorded : nullptr;
        runs.push_back({{"run", one.run},
                        {"file", recorded ? json(recorded->file) : json()},
                        {"place", recorded && recorded->place ? key_json(*recorded->place) : json()},
                        {"counts", recorded && recorded->counts}});
    }
    return json_reply({{"schema", "ebbtide.page-kept/1"}, {"key", at->key}, {"runs", std::move(runs)}}, 201);
}

}  // namespace ebbtide::server
