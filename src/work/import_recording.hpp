#pragma once
// A recording that somebody brings: what is in it, and its runs entered in an order as if they had been heard
// live.

#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "report/report.hpp"
#include "work/live_order.hpp"

namespace ebbtide::work {

/// The bytes of a file and how they are to be read.
struct BroughtFile {
    std::string name;  ///< a label
    std::shared_ptr<const std::string> bytes;
    recording::ReadOptions options = {};
};

struct LookedInto {
    MeasuredFile file;
    std::vector<report::PlotTrace> traces;  ///< of its runs, thinned
};

/// Measures its runs: by an order's method and with its bench, or by the usual rules. Nothing is kept.
/// Errors: what cannot be read as a recording.
[[nodiscard]] Result<LookedInto> look_into(const BroughtFile& brought,
                                           const std::optional<record::OrderRecord>& order);

struct KeepRequest {
    LiveOrderRequest order;
    Instant now;
    struct Run {
        std::string id;
        std::optional<std::size_t> place;  ///< of the order's live plan; nothing: the next open one
    };
    std::vector<Run> runs;  ///< in the order in which they are entered; empty: all
};

struct KeptRun {
    std::string run;
    std::optional<RunRecorded> recorded;  ///< nothing: it was there already
};

/// Errors: those of LiveOrder::open(); the file has no such run; a place that is none, or filled; what cannot
/// be written. Before anything is entered all runs and places were looked at.
[[nodiscard]] Result<std::vector<KeptRun>> keep_runs_of(const BroughtFile& brought,
                                                        const KeepRequest& request);

}  // namespace ebbtide::work
