#pragma once
// All samples of one run of an order, out of its recording.

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

/// Reads the recording again and keeps the run's samples. Errors: the record has no such run; the recording
/// cannot be read, or is another than the one that was judged.
[[nodiscard]] Result<RunSamples> run_samples(const OrderFiles& files, const record::OrderRecord& record,
                                             const std::string& run);

/// The run as it was recorded, as a segment of its own, and what its recording says of itself.
struct RunAsRecorded {
    recording::Description about;
    recording::Block samples;
};
[[nodiscard]] Result<RunAsRecorded> run_as_recorded(const OrderFiles& files,
                                                    const record::OrderRecord& record,
                                                    const std::string& run);

}  // namespace ebbtide::work
