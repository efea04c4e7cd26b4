#pragma once
// A bench check on a bench that keeps its own controls: a person mounts and charges what is asked for, and
// each step is taken from the run that is heard. docs/formats/bench-check.md.

#include <functional>
#include <string>
#include <vector>

#include "basis/instant.hpp"
#include "basis/result.hpp"
#include "plan/bench.hpp"
#include "work/bench_check_record.hpp"
#include "work/live_event.hpp"
#include "work/live_source.hpp"

namespace ebbtide::work {

struct HeardCheckRequest {
    std::string source;      ///< for people, as it was named
    std::string bench_file;  ///< the record goes into the folder `checks` beside it
    plan::Bench bench;       ///< what that file says, with [check]
    std::string order;       ///< folder of an order that keeps a copy; empty: none
    bool closing = false;
    std::string who;
    std::function<Instant()> now;
    /// Asked before each block: how many steps the person wants to go back. Nothing: nobody can.
    std::function<std::size_t()> steps_back = {};
};

/// Asks for the steps of bench::steps_of() one after the other and takes each from the next run that fits it:
/// of its polarity, at its voltage within a tenth, with a proven zero and no flag that voids it. What does
/// not fit is told and kept, and the step is asked for again. Ends with the last step, or with the source;
/// then it was broken off, is no good check, and is on record. Where the source says when it was recorded the
/// check was made then, else now. Errors: no channel is the specimen's voltage, or the electrode's; files
/// cannot be written.
[[nodiscard]] Result<BenchCheckAnswer> hear_check(LiveSource& source, const HeardCheckRequest& request,
                                                  const std::vector<LiveSink>& sinks);

/// The bench of a file whose check can be heard. Errors: as parse_bench(); it has no [check].
[[nodiscard]] Result<plan::Bench> bench_to_hear(const std::string& bench_file);

}  // namespace ebbtide::work
