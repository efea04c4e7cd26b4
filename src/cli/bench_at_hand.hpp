#pragma once
// The bench that a command drives, and the person at it: a simulated one with somebody who mounts at once, or
// a rehearsal that only shows what would be sent.

#include <cstdint>
#include <memory>
#include <optional>
#include <string>

#include "basis/result.hpp"
#include "bench/bench.hpp"
#include "cli/commands.hpp"
#include "work/drive.hpp"

namespace ebbtide::cli {

/// A bench and who stands at it. The person refers to the bench: keep both.
struct BenchAtHand {
    std::unique_ptr<bench::Bench> bench;
    work::Person person;
    bool ahead_of_time = false;  ///< its clock is not ours
};

/// Errors: the simulation; no bench is named (instruments have no drivers yet).
[[nodiscard]] Result<BenchAtHand> bench_at_hand(const LiveBenchOptions& options, const plan::Bench& believed);

/// When a session begins: now, or after all that a simulated bench, whose clock runs ahead of ours, has left
/// behind in the order's folder (may be empty) or beside the bench file.
[[nodiscard]] Instant session_begin(const BenchAtHand& at_hand, const plan::Bench& bench,
                                    const std::string& order, const std::string& bench_file);

/// Ctrl-C, a request to end and a lost terminal stop what is live, in good order; asked for at every look.
void heed_signals();
[[nodiscard]] bool asked_to_end();

/// Prints what happens, one line a happening, 80 columns; it must outlive its sinks.
class DrivingLines {
  public:
    DrivingLines(bool json, bool commands) : json_(json), commands_(commands) {}
    [[nodiscard]] work::DriveSinks sinks();

  private:
    void happening(const bench::Happening& one) const;
    void run(const work::DrivenRun& run);
    bool json_, commands_;
    std::size_t runs_ = 0;
};

}  // namespace ebbtide::cli
