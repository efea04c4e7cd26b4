#pragma once
// A recording played as if it were made now.

#include <memory>

#include "recording/source.hpp"
#include "work/live_source.hpp"

namespace ebbtide::work {

/// Hands out the samples of `source` no sooner than `pace` times as fast as they were recorded (1: at their
/// own pace; 0: as fast as they come), in pieces of a twentieth of a second. Ends early when `attend` says
/// so.
[[nodiscard]] std::unique_ptr<recording::Source> paced(std::unique_ptr<recording::Source> source, double pace,
                                                       Attend attend);

}  // namespace ebbtide::work
