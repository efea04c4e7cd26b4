#pragma once
// A run as a recording of its own.

#include <string>

#include "basis/result.hpp"
#include "recording/source.hpp"
#include "work/measure.hpp"

namespace ebbtide::work {

/// One run of one recording, as a container of its own: the same bytes for the same run, whatever line it
/// came by, as long as it was understood alike.
struct RunContainer {
    std::string bytes, sha256;
};
[[nodiscard]] Result<RunContainer> run_container(const recording::Description& source,
                                                 const recording::Block& run);

/// The run in it, measured under another question than it was cut under. Error: it does not hold just one.
[[nodiscard]] Result<MeasuredRun> measured_from(const RunContainer& container,
                                                const recording::ReadOptions& read,
                                                const MeasureRequest& request);

}  // namespace ebbtide::work
