#include "work/run_samples.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <optional>

#include "work/measure_order.hpp"
#include "work/reference_check.hpp"
#include "work/reference_runs.hpp"

namespace ebbtide::work {
namespace {

/// The n-th recording of the plan.
Result<std::unique_ptr<recording::Source>> recording_at(const OrderFiles& files,
                                                        const record::OrderRecord& documents, std::size_t n) {
    const std::vector<plan::PlannedRecording>& planned = documents.order.recordings;
    const auto before = planned.begin() + static_cast<std::ptrdiff_t>(n);
    const auto named = std::count_if(planned.begin(), before, [&](const plan::PlannedRecording& one) {
        return one.file == before->file;  // a plan may name a recording several times
    });
    recording::ReadOptions options = options_for(*before, documents.bench);
    options.hash = false;  // the run's id says whether these are its samples
    return open_planned(files, *before, static_cast<std::size_t>(named) + 1, options);
}

/// Of the recording that the run was cut from, where the record says so.
std::optional<std::size_t> place_of(const record::OrderRecord& record, const std::string& run) {
    for (std::size_t i = 0; i < record.recordings.size() && i < record.order.recordings.size(); ++i)
        if (std::ranges::find(record.recordings[i].runs, run) != record.recordings[i].runs.end()) return i;
    return {};
}

trace::SampleStore stored(const trace::Samples& samples) {
    return {{samples.time_s.begin(), samples.time_s.end()}, {samples.value.begin(), samples.value.end()}};
}

RunSamples samples_of(const decay::RunTrace& trace) {
    RunSamples out;
    out.specimen = stored(trace.specimen);
    out.specimen_extremes = Extremes(out.specimen.value);
    if (trace.electrode && !trace.electrode->empty()) {
        out.electrode = stored(*trace.electrode);
        out.electrode_extremes = Extremes(out.electrode->value);
    }
    out.electrode_base_V = trace.base;
    out.sign = trace.sign;
    return out;
}

}  // namespace

std::size_t RunSamples::bytes() const {
    const auto of = [](const trace::SampleStore& store) { return 16 * store.value.size(); };
    return of(specimen) + (electrode ? of(*electrode) : 0);
}

Result<std::optional<TracedRun>> traced_run(const OrderFiles& files, const record::OrderRecord& documents,
                                            const std::string& run, const decay::Figures* known) {
    const auto measures = measures_of(files, documents, {}, {}, false);
    if (!measures) return measures.error();
    const std::size_t planned = documents.order.recordings.size();
    std::size_t first = 0, last = planned;
    if (!documents.recordings.empty()) {
        first = place_of(documents, run).value_or(planned);
        last = std::min(first + 1, planned);
    }
    std::optional<TracedRun> found;
    for (std::size_t n = first; n < last && !found; ++n) {
        auto source = recording_at(files, documents, n);
        if (!source) return source.error();
        MeasureRequest request = measures->request_for(documents.order.recordings[n], documents);
        request.only = known ? "" : run;
        const auto read =
            measure(**source, request, [&](const MeasuredRun& one, const decay::RunTrace& trace) {
                if (one.run_id == run && !found)
                    found = TracedRun{samples_of(trace), known ? *known : one.figures};
            });
        if (!read) return read.error();
    }
    return found;
}

Result<RunAsRecorded> run_as_recorded(const OrderFiles& files, const record::OrderRecord& record,
                                      const std::string& run) {
    const auto place = place_of(record, run);
    if (!place)
        return Error{Fault::bad_input, fmt::format("the order has no run '{}'", run.substr(0, 64)),
                     files.place(), "Take one of its runs"};
    auto source = recording_at(files, record, *place);
    if (!source) return source.error();
    const plan::PlannedRecording& planned = record.order.recordings[*place];
    const auto mounted = checked_in(planned, record.method);
    // The rules decide along which channel runs are cut.
    MeasureRequest request = mounted ? reference_request(*mounted, record.bench)
                                     : MeasureRequest{record.method.decay, record.bench};
    request.only = "";
    RunAsRecorded out;
    bool found = false;
    recording::Block last;
    const auto read = measure(
        **source, request,
        [&](const MeasuredRun& one, const decay::RunTrace&) {
            if (one.run_id != run || found) return;
            found = true;
            out.samples = std::move(last);
        },
        [&](const recording::Block& block) -> Result<Done> {
            last = block;
            return Done{};
        });
    if (!read) return read.error();
    if (!found)
        return Error{Fault::inconsistent, "the recording does not hold this run any more",
                     (*source)->description().file,
                     "Find the recording that was judged, or judge the order again"};
    out.about = (*source)->description();
    return out;
}

}  // namespace ebbtide::work
