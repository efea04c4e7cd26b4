#include "work/import_recording.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <map>

#include "work/measure_order.hpp"
#include "work/plot_trace.hpp"

namespace ebbtide::work {
namespace {

MeasureRequest request_for(const std::optional<record::OrderRecord>& order) {
    MeasureRequest request;
    request.laws.emplace();
    request.rules = usual_rules();
    if (!order) return request;
    request.rules = rules_asked(*order, {}, {});
    request.bench = order->bench;
    request.monte_carlo = true;
    return request;
}

/// Names of channels as the bench has them, where the file's sender named none.
recording::ReadOptions options_of(const BroughtFile& brought, const std::optional<plan::Bench>& bench) {
    plan::PlannedRecording like;
    like.channels = {brought.options.time, brought.options.specimen, brought.options.electrode,
                     brought.options.marker};
    like.sample_interval_s = brought.options.sample_interval_s;
    return options_for(like, bench);
}

/// A run and the container that would hold it.
struct MeasuredContainer {
    MeasuredRun run;
    RunContainer container;
};

Result<std::map<std::string, MeasuredContainer>> containers_of(const BroughtFile& brought,
                                                               const LiveOrder& live,
                                                               std::vector<std::string>& ids) {
    recording::ReadOptions options = options_of(brought, live.record().bench);
    auto source = recording::open_bytes(*brought.bytes, brought.name, options);
    if (!source) return source.error();
    std::map<std::string, MeasuredContainer> out;
    RunContainer last;
    const auto measured = measure(
        **source, live.measure_request(),
        [&](const MeasuredRun& run, const decay::RunTrace&) {
            ids.push_back(run.run_id);
            out[run.run_id] = {run, std::move(last)};
        },
        [&](const recording::Block& block) -> Result<Done> {
            auto made = run_container((*source)->description(), block);
            if (!made) return made.error();
            last = std::move(made).value();
            return Done{};
        });
    if (!measured) return measured.error();
    return out;
}

}  // namespace

Result<LookedInto> look_into(const BroughtFile& brought, const std::optional<record::OrderRecord>& order) {
    auto source = recording::open_bytes(*brought.bytes, brought.name,
                                        options_of(brought, order ? order->bench : std::nullopt));
    if (!source) return source.error();
    LookedInto out;
    auto file =
        measure(**source, request_for(order), [&](const MeasuredRun& run, const decay::RunTrace& trace) {
            out.traces.push_back(plot_trace(trace, run.figures));
        });
    if (!file) return file.error();
    out.file = std::move(file).value();
    return out;
}

Result<std::vector<KeptRun>> keep_runs_of(const BroughtFile& brought, const KeepRequest& request) {
    auto live = LiveOrder::open(request.order);
    if (!live) return live.error();
    std::vector<std::string> ids;
    auto measured = containers_of(brought, **live, ids);
    if (!measured) return measured.error();
    std::vector<KeepRequest::Run> wanted = request.runs;
    if (wanted.empty())
        for (const std::string& id : ids) wanted.push_back({id, {}});
    for (const KeepRequest::Run& run : wanted) {
        if (!measured->contains(run.id))
            return Error{Fault::bad_input, fmt::format("the file has no run '{}'", run.id.substr(0, 64)),
                         "places", "Send the file again for this order: its bench may name other channels"};
        if (!run.place) continue;
        if (*run.place >= (*live)->places().size())
            return Error{Fault::bad_input, "the plan has no such place", "places",
                         "Take an 'index' of its places"};
        if ((*live)->places()[*run.place].filled ||
            std::ranges::count_if(wanted, [&](const auto& other) { return other.place == run.place; }) > 1)
            return Error{Fault::bad_input,
                         fmt::format("the place {} is filled", (*live)->places()[*run.place].key.label()),
                         "places", "Choose an open one"};
    }
    std::vector<KeptRun> kept;
    for (const KeepRequest::Run& run : wanted) {
        if (run.place)
            if (auto chosen = (*live)->choose(*run.place); !chosen) return chosen.error();
        const MeasuredContainer& one = measured->at(run.id);
        auto recorded = (*live)->keep(one.run, one.container, "file: " + brought.name, request.now);
        if (!recorded) return recorded.error();
        kept.push_back({run.id, std::move(recorded).value()});
    }
    return kept;
}

}  // namespace ebbtide::work
