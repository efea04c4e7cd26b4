#pragma once
// The person at a driven bench, by the terminal: what is typed, signals, and what is printed line by line.

#include <nlohmann/json_fwd.hpp>
#include <optional>
#include <vector>

#include "basis/instant.hpp"
#include "cli/commands.hpp"
#include "cli/live_screen.hpp"
#include "work/bench_at_hand.hpp"
#include "work/live_event.hpp"

namespace ebbtide::cli {

/// Ctrl-C, a request to end and a lost terminal stop what is live, in good order; asked for at every look.
void heed_signals();
[[nodiscard]] bool asked_to_end();

/// One line, at once: a program that reads it is waiting.
void print_json(const nlohmann::json& line);

/// Asked line by line on the terminal: the return key says that it is done, the end of the input to stop.
[[nodiscard]] work::Answer ask_on_terminal(const work::Question& question);

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

/// What the person at this terminal sees and answers: a picture where standard output is a terminal, else
/// line after line; with `json` or `events` none of it.
class AtTheBench {
  public:
    AtTheBench(const LiveBenchOptions& options, bool commands, std::string title);

    /// The bench that the options name, with the person at this terminal; it must not outlive this. Errors:
    /// as work::bench_at_hand(); no pace of that name.
    [[nodiscard]] Result<work::BenchAtHand> bench_at_hand(const plan::Bench& believed);
    /// The sink that shows or prints. `began` as for the lines of the log.
    void take(const work::LiveEvent& event, Instant began);
    /// Ends the picture: what is printed from now on stands below it.
    void leave() { watched_.reset(); }

  private:
    struct Watched {
        Watched() : keys(true) {}
        Keys keys;
        LiveScreen screen;
    };
    work::Answer ask(const work::Question& question);
    bool pause();
    void say(const std::string& words);

    const LiveBenchOptions& options_;
    DrivingLines lines_;
    std::optional<Watched> watched_;
};

}  // namespace ebbtide::cli
