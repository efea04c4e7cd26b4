#pragma once
// The bench that is driven, and the person at it: a simulated one with hands that mount what is asked for, or
// a rehearsal that only shows what would be sent.

#include <cstdint>
#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <string_view>

#include "basis/instant.hpp"
#include "basis/result.hpp"
#include "bench/bench.hpp"
#include "bench/simulated_bench.hpp"
#include "plan/bench.hpp"
#include "work/person.hpp"

namespace ebbtide::work {

/// "fast", "real", or how many times as fast as a real bench. Error: none of these.
[[nodiscard]] Result<bench::Pace> pace_named(std::string_view text);

struct BenchAtHandRequest {
    std::string simulated;              ///< file of a simulation; empty: no bench
    std::optional<std::uint64_t> seed;  ///< none: the simulation's
    bench::Pace pace = bench::Pace::fast;
    bool dry_run = false;  ///< a rehearsal, whatever `simulated` says
    /// Who is asked. The simulated bench's hands mount in any case what an answer says is mounted.
    std::function<Answer(const Question&)> ask = {};
    bool asks_all = false;  ///< else `ask` is asked after a pause only, and the hands answer
    std::function<bool()> stop = {}, pause = {};
    std::function<void(const std::string&)> say = {};  ///< what the hands could not do
};

/// A bench and who stands at it. The person refers to the bench: keep both.
struct BenchAtHand {
    std::unique_ptr<bench::Bench> bench;
    Person person;
    bool ahead_of_time = false;  ///< its clock may run ahead of ours
};

/// Hands that answer never tire: after an abort they reset the source and try once more. What cannot be
/// mounted stops the work. Errors: the simulation; no bench is named (instruments have no drivers yet).
[[nodiscard]] Result<BenchAtHand> bench_at_hand(const BenchAtHandRequest& request,
                                                const plan::Bench& believed);

/// When a session begins: now, or, on a bench whose clock runs ahead of ours, after all that is there of
/// earlier sessions in the order's folder (may be empty) or beside the bench file.
[[nodiscard]] Instant session_begin(const BenchAtHand& at_hand, const plan::Bench& bench,
                                    const std::string& order, const std::string& bench_file, Instant now);

}  // namespace ebbtide::work
