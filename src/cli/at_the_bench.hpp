#pragma once
// The person at a driven bench, by the terminal: what is typed, signals, and what is printed line by line.

#include "cli/commands.hpp"
#include "work/bench_at_hand.hpp"
#include "work/live_event.hpp"

namespace ebbtide::cli {

/// The bench that the options name, with the person at this terminal. Errors: as work::bench_at_hand(); no
/// pace of that name.
[[nodiscard]] Result<work::BenchAtHand> bench_at_hand(const LiveBenchOptions& options,
                                                      const plan::Bench& believed);

/// Ctrl-C, a request to end and a lost terminal stop what is live, in good order; asked for at every look.
void heed_signals();
[[nodiscard]] bool asked_to_end();

/// What happens, one line a happening, 80 columns.
class DrivingLines {
  public:
    explicit DrivingLines(bool commands) : commands_(commands) {}  ///< whether each command is shown
    void take(const work::LiveEvent& event);

  private:
    void run(const std::string& label, const work::RunReadings& readings, const work::RunRecorded* kept,
             const std::string& file, const std::string& words);
    bool commands_;
    std::size_t runs_ = 0;
};

}  // namespace ebbtide::cli
