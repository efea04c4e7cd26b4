#pragma once
// A source of samples by the words that a person names it with. docs/formats/live.md lists them.

#include <functional>
#include <memory>
#include <string>

#include "recording/source.hpp"

namespace ebbtide::work {

/// Called some twenty times a second while a source waits, and before each read. False: stop listening; the
/// source then ends as if its sender had closed.
using Attend = std::function<bool()>;

struct LiveSourceRequest {
    /// "-", a file, "tcp://HOST:PORT", "serial:DEVICE?baud=N", "replay:FILE?pace=P",
    /// "simulated:FILE?recording=NAME&pace=P"
    std::string source;
    bool follow = false;  ///< a file is read on as it grows
    recording::ReadOptions read;
    Attend attend;  ///< nothing: never stops
};

struct LiveSource {
    std::unique_ptr<recording::Source> samples;
    std::string ceiling;  ///< what the line carries at most; empty where nothing limits it
};

/// Waits for as many lines as tell the layout of a text (64 mostly), or for the first records of a
/// container. Errors: words that name no source; those of the line; those of recording::open().
[[nodiscard]] Result<LiveSource> open_live_source(const LiveSourceRequest& request);

}  // namespace ebbtide::work
