#pragma once
// One run of a driven order: recorded while it goes on, then measured and laid on its place of the plan, or
// kept as what does not count.

#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "bench/guarded_bench.hpp"
#include "record/order_record.hpp"
#include "work/drive_plan.hpp"
#include "work/live_event.hpp"
#include "work/live_order.hpp"
#include "work/run_recording.hpp"

namespace ebbtide::work {

/// A run that was tried.
struct DrivenRun {
    plan::RunKey key;
    std::string file;  ///< what there is of it, relative to the order's folder; empty: nothing
    bool recorded = false;
    std::string words;  ///< what is wrong and how to mend it; empty when it was recorded and counts
    RunReadings readings = {};
    std::optional<RunRecorded> kept = {};  ///< its figures, flags and place, once it is on the disk
};

/// Writes the runs of a session. One thread.
class DrivenRuns {
  public:
    /// `live` null: a dry run, which writes nothing. All must outlive it.
    DrivenRuns(std::string folder, std::string who, Instant began, const record::OrderRecord& documents,
               const plan::Bench& bench, LiveOrder* live);

    /// Gives what a session before was writing when it was killed its name; those names, relative to the
    /// folder.
    [[nodiscard]] std::vector<std::string> keep_leftovers() const;
    /// Error: it cannot be written.
    [[nodiscard]] Result<Done> begin(const OpenPlace& place);
    /// What is recorded of the run that was begun; without one nothing happens. A disk that takes no more is
    /// told by fault().
    void keep(const bench::Observation& seen);
    /// What came of it. Error: it cannot be written.
    [[nodiscard]] Result<DrivenRun> end(const OpenPlace& place, const bench::Driven& driven, Instant now);
    [[nodiscard]] const std::optional<Error>& fault() const { return fault_; }

  private:
    [[nodiscard]] std::string path(const std::string& name) const { return folder_ + "/" + name; }
    [[nodiscard]] std::string free_name() const;
    [[nodiscard]] Result<Done> keep_run(const OpenPlace& place, DrivenRun& run, Instant now);
    [[nodiscard]] Result<std::optional<RunRecorded>> lay_on_plan(const OpenPlace& place,
                                                                 const std::string& file, Instant now);

    std::string folder_, who_;
    Instant began_;
    const record::OrderRecord& documents_;
    const plan::Bench& bench_;
    LiveOrder* live_;
    std::unique_ptr<RunRecording> recording_;
    std::optional<double> temperature_C_, relative_humidity_percent_;  ///< as last read during a run
    std::optional<Error> fault_;
};

/// What a guarded run read, from how it ended.
[[nodiscard]] RunReadings readings_of(const bench::Driven& driven);

}  // namespace ebbtide::work
