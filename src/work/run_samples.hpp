#pragma once
// One run of an order, out of its recording: all its samples, and its figures without a judgement.

#include <optional>
#include <string>

#include "record/order_record.hpp"
#include "work/measure.hpp"
#include "work/order_files.hpp"
#include "work/trace_window.hpp"

namespace ebbtide::work {

/// Volts after the bench's gain, before zero and sign; seconds on the recording's own axis.
struct RunSamples {
    trace::SampleStore specimen;
    Extremes specimen_extremes;
    std::optional<trace::SampleStore> electrode = {};
    Extremes electrode_extremes = {};
    double electrode_base_V = 0;  ///< what the electrode read before the charge, where it stands for the run
    double sign = 1;              ///< of the charge

    [[nodiscard]] std::size_t bytes() const;
};

/// As its order has it measured: its figures are those that judging gives, but for the law (unless the method
/// extrapolates) and Monte Carlo.
struct TracedRun {
    RunSamples samples;
    decay::Figures figures;
};

/// Reads the order's recordings in their order until one holds the run; nothing else is measured, nothing
/// judged. `documents`: as read_documents() gives them; with the recordings of a record, which say where the
/// run is, no other is read. `known`: its figures, where it was measured before; they are not worked out
/// again then, which is the half of it. Nothing: the order has no such run. Errors: those of the recordings.
[[nodiscard]] Result<std::optional<TracedRun>> traced_run(const OrderFiles& files,
                                                          const record::OrderRecord& documents,
                                                          const std::string& run,
                                                          const decay::Figures* known = nullptr);

/// The run as it was recorded, as a segment of its own, and what its recording says of itself.
struct RunAsRecorded {
    recording::Description about;
    recording::Block samples;
};
[[nodiscard]] Result<RunAsRecorded> run_as_recorded(const OrderFiles& files,
                                                    const record::OrderRecord& record,
                                                    const std::string& run);

}  // namespace ebbtide::work
