#pragma once
// Drives a bench through the open places of an order: mounts by prompt, one guarded run a place, one
// recording a run, every command logged. docs/formats/drive.md.

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "basis/instant.hpp"
#include "basis/result.hpp"
#include "bench/bench.hpp"
#include "work/documents_to_drive.hpp"
#include "work/drive_plan.hpp"
#include "work/driven_run.hpp"
#include "work/live_event.hpp"
#include "work/person.hpp"

namespace ebbtide::work {

struct DriveRequest {
    std::string order;       ///< the order's folder
    std::string bench_file;  ///< empty: the order's own; else the same bench, with its [drive] table
    std::string who;         ///< initials of the person at the bench
    std::string conditions;  ///< of the order, that hold today; may be empty where it has one
    std::string ledger;      ///< file; empty: none
    std::string override_;   ///< why work starts without a good bench check; empty: it does not
    Sequence sequence = Sequence::planned;
    std::uint64_t seed = 1;  ///< of a randomised sequence
    bool dry_run = false;    ///< nothing is written; the bench is a rehearsal
    Instant began = {};      ///< the instant at which the bench's clock stands at 0
};

struct DriveAnswer {
    std::string order;
    std::vector<DrivenRun> runs;
    std::size_t open_before = 0, open_after = 0;
    bool found_on = false;    ///< the output was found on at the start
    std::string ended;        ///< why it ended before the plan was done; empty: it is done
    std::string may_be_live;  ///< what could not be shown to be off at the end
};

/// Tells the sinks all that happens, from SessionBegun to SessionEnded, whatever the way out; an error of the
/// documents comes before either. Errors: those of LiveOrder::open() and open_places(); no good bench check
/// and no override, or an override without a name; a recording or the log cannot be written; the person
/// cannot be asked (no `ask`). Whatever the way out, output_off and earth_clamps were sent.
[[nodiscard]] Result<DriveAnswer> drive(bench::Bench& bench, const DriveRequest& request,
                                        const Person& person, const std::vector<LiveSink>& sinks);

}  // namespace ebbtide::work
