#include "work/live_reference.hpp"

#include "judge/run_flags.hpp"
#include "work/measure_order.hpp"
#include "work/order_files.hpp"
#include "work/reference_check.hpp"

namespace ebbtide::work {

Result<Done> take_reference(RunRecorded& out, plan::Mounted mounted, const RunContainer& container,
                            const record::OrderRecord& record, const std::string& conditions) {
    const bool of_method = record.method.reference_run && mounted == plan::Mounted::nothing;
    MeasureRequest request = reference_request(mounted, record.bench);
    if (of_method) request = {record.method.decay, record.bench, {RunPlace{{}, true}}};
    auto run = measured_from(container, options_for({}, record.bench), request);
    if (!run) return run.error();
    out.run = std::move(run).value();
    const plan::RunKey key{std::string(plan::label_of(mounted)), "", conditions, out.run.figures.polarity, 1};
    out.reference = mounted;
    if (of_method)
        for (plan::Flag& flag :
             reference_flags(out.run.figures, key, record.order, record.method, record.bench))
            out.run.flags.push_back(std::move(flag));
    else
        out.check = hold_against_check(out.run, mounted, record.bench);
    judge::apply_consequences(out.run.flags, record.method);
    out.counts = false;
    return Done{};
}

Result<ReferenceLevels> levels_in(const std::string& folder, const record::OrderRecord& record,
                                  const std::vector<plan::PlannedRecording>& heard) {
    plan::Order order = record.order;
    order.recordings.insert(order.recordings.end(), heard.begin(), heard.end());
    const auto files = folder_files(folder);
    return reference_levels(order, record.method, record.bench, [&](const plan::PlannedRecording& planned) {
        return files->recording(planned.file, options_for(planned, record.bench));
    });
}

}  // namespace ebbtide::work
