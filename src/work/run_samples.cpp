#include "work/run_samples.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <map>

#include "work/measure_order.hpp"

namespace ebbtide::work {
namespace {

/// Opens the recording that the run was cut from.
Result<std::unique_ptr<recording::Source>> recording_of(const OrderFiles& files,
                                                        const record::OrderRecord& record,
                                                        const std::string& run) {
    std::map<std::string, std::size_t> named;  // a plan may name a recording several times
    for (std::size_t i = 0; i < record.recordings.size() && i < record.order.recordings.size(); ++i) {
        const plan::PlannedRecording& planned = record.order.recordings[i];
        const std::size_t occurrence = ++named[planned.file];
        if (std::ranges::find(record.recordings[i].runs, run) == record.recordings[i].runs.end()) continue;
        recording::ReadOptions options = options_for(planned, record.bench);
        options.hash = false;  // the run's id says whether these are its samples
        return files.recording(
            files.keeps_only_runs_of(planned.file) ? kept_runs_name(planned.file, occurrence) : planned.file,
            options);
    }
    return Error{Fault::bad_input, fmt::format("the order has no run '{}'", run.substr(0, 64)), files.place(),
                 "Take one of its runs"};
}

Result<Done> read_run(recording::Source& source, const record::OrderRecord& record, const std::string& run,
                      const RunSeen& found, const RunKept& keep = {}) {
    MeasureRequest request;
    request.rules = record.method.decay;  // it decides along which channel runs are cut
    request.bench = record.bench;
    bool is_there = false;
    const auto read = measure(
        source, request,
        [&](const MeasuredRun& one, const decay::RunTrace& trace) {
            if (one.run_id != run || is_there) return;
            is_there = true;
            found(one, trace);
        },
        keep);
    if (!read) return read.error();
    if (is_there) return Done{};
    return Error{Fault::inconsistent, "the recording does not hold this run any more",
                 source.description().file, "Find the recording that was judged, or judge the order again"};
}

trace::SampleStore stored(const trace::Samples& samples) {
    return {{samples.time_s.begin(), samples.time_s.end()}, {samples.value.begin(), samples.value.end()}};
}

}  // namespace

std::size_t RunSamples::bytes() const {
    const auto of = [](const trace::SampleStore& store) { return 16 * store.value.size(); };
    return of(specimen) + (electrode ? of(*electrode) : 0);
}

Result<RunSamples> run_samples(const OrderFiles& files, const record::OrderRecord& record,
                               const std::string& run) {
    auto source = recording_of(files, record, run);
    if (!source) return source.error();
    RunSamples out;
    const auto read = read_run(**source, record, run, [&](const MeasuredRun&, const decay::RunTrace& trace) {
        out.specimen = stored(trace.specimen);
        if (trace.electrode && !trace.electrode->empty()) out.electrode = stored(*trace.electrode);
        out.electrode_base_V = trace.base;
        out.sign = trace.sign;
    });
    if (!read) return read.error();
    out.specimen_extremes = Extremes(out.specimen.value);
    if (out.electrode) out.electrode_extremes = Extremes(out.electrode->value);
    return out;
}

Result<RunAsRecorded> run_as_recorded(const OrderFiles& files, const record::OrderRecord& record,
                                      const std::string& run) {
    auto source = recording_of(files, record, run);
    if (!source) return source.error();
    RunAsRecorded out;
    recording::Block last;
    const auto read = read_run(
        **source, record, run,
        [&](const MeasuredRun&, const decay::RunTrace&) { out.samples = std::move(last); },
        [&](const recording::Block& block) -> Result<Done> {
            last = block;
            return Done{};
        });
    if (!read) return read.error();
    out.about = (*source)->description();
    return out;
}

}  // namespace ebbtide::work
