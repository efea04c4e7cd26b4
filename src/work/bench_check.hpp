#pragma once
// Makes a bench check: each step mounted by prompt and run under guard, the figures against the limits of the
// bench file, one record of it. docs/formats/bench-check.md.

#include <string>
#include <vector>

#include "basis/instant.hpp"
#include "basis/result.hpp"
#include "bench/bench.hpp"
#include "work/bench_check_record.hpp"
#include "work/live_event.hpp"
#include "work/person.hpp"

namespace ebbtide::work {

struct BenchCheckRequest {
    std::string bench_file;  ///< with [drive] and [check]; the record goes into the folder `checks` beside it
    std::string order;       ///< folder of an order that keeps a copy; empty: none
    bool closing = false;
    std::string who;
    bool dry_run = false;
    Instant began = {};  ///< the instant at which the bench's clock stands at 0
};

/// Tells the sinks all that happens, from SessionBegun to BenchChecked and SessionEnded.
/// Asks `person` to mount (Question::Kind::mount, `mounted` set). A step that was stopped is asked for again;
/// a check that was broken off is no good check, and is on record. Errors: the bench file; nobody can be
/// asked; files cannot be written. Whatever the way out, output_off and earth_clamps were sent.
[[nodiscard]] Result<BenchCheckAnswer> check_bench(bench::Bench& bench, const BenchCheckRequest& request,
                                                   const Person& person, const std::vector<LiveSink>& sinks);

}  // namespace ebbtide::work
