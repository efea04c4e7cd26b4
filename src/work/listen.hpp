#pragma once
// Listens to a bench: cuts runs as their samples come, measures each, and keeps it in its place of an order.

#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "work/live_event.hpp"
#include "work/live_order.hpp"
#include "work/live_source.hpp"
#include "work/measure.hpp"

namespace ebbtide::work {

struct ListenRequest {
    std::string source;      ///< for people, as it was named
    MeasureRequest measure;  ///< with an order: LiveOrder::measure_request()
    /// All that comes is kept in the order's folder, as where the order says so; else the runs, and a tenth
    /// of a second at a time the lowest, the highest and the mean of what stands between them.
    bool keep_all = false;
    std::function<Instant()> now;
};

/// What was heard, once the source has ended.
struct Heard {
    std::uint64_t runs = 0;
    std::optional<Error> broken;  ///< the link was lost, or what came was no recording any more
};

/// Reads until the source ends or breaks. A run is measured by the code that measures files, has the same id
/// and figures, and is told when its tail has come: eight times as long as its fall. Figures without the tail
/// are told at once. With `order` a run is told as recorded when it is on the disk. Errors: no channel is the
/// specimen's voltage; the order's folder or the ledger cannot be written.
[[nodiscard]] Result<Heard> listen(LiveSource& source, const ListenRequest& request, LiveOrder* order,
                                   const std::vector<LiveSink>& sinks);

}  // namespace ebbtide::work
