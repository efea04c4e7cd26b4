#pragma once
// What a person at the bench sees while it is listened to or driven: one state, and its lines of text. The
// lines are a pure function of the state and the size of the terminal.

#include <cstddef>
#include <deque>
#include <optional>
#include <string>
#include <vector>

#include "work/live_event.hpp"
#include "work/live_plan.hpp"

namespace ebbtide::cli {

struct LiveState {
    /// Of the trace, a tenth of a second each; the newest is last.
    struct Point {
        double lowest_V = 0, highest_V = 0;
    };
    static constexpr std::size_t points_kept = 600;  // two a column, of any terminal

    std::string title;  ///< the order, or that there is none
    std::string source, ceiling;
    std::optional<std::size_t> specimen;  ///< the channel of its voltage
    plan::VoltageScale scale;             ///< of that channel, where it does not come in volts
    std::deque<Point> trace;              ///< of the specimen's voltage
    double trace_time_s = 0;              ///< of its newest point
    bool driven = false;                  ///< not only heard
    std::string running;                  ///< the place or the step that is run
    std::string phase;                    ///< a word of the design's, and what it is
    std::vector<work::LiveGuard> guards;
    std::optional<decay::Figures> fallen;  ///< of the run in progress, without its tail
    std::optional<work::RunRecorded> last;
    std::string readings;  ///< of the run that ended last, where a bench is driven
    std::uint64_t runs = 0;
    std::string question;  ///< that waits for an answer
    std::vector<work::PlanPlace> places;
    std::optional<std::size_t> next;
    std::optional<plan::Mounted> reference;  ///< the next run is a reference run
    std::vector<std::string> troubles;       ///< what is wrong and how to mend it; the newest is last
    std::string keys;                        ///< which keys do what; empty where nobody can press any
    std::string typing;                      ///< what the person is entering
};

/// Takes an event into the state.
void take(LiveState& state, const work::LiveEvent& event);

struct ScreenSize {
    std::size_t rows = 24, columns = 80;
};

/// Lines of at most `columns` characters, `rows` of them at most; no colour, no control characters.
[[nodiscard]] std::vector<std::string> live_lines(const LiveState& state, ScreenSize size = {});

/// The end of the trace in dots, `height` lines of at most `columns` characters, with its highest and lowest
/// voltage beside it.
[[nodiscard]] std::vector<std::string> trace_lines(const std::deque<LiveState::Point>& trace,
                                                   std::size_t height, std::size_t columns = 80);

/// One mark a replicate: filled, void so far, open, next.
[[nodiscard]] std::vector<std::string> plan_lines(const std::vector<work::PlanPlace>& places,
                                                  std::optional<std::size_t> next, ScreenSize size);

/// "W1 front dry-1 + 1", "reference run, check standard +", or the polarity alone.
[[nodiscard]] std::string run_label(const work::RunRecorded& recorded);

/// "● span +: 1.004, from 0.97 to 1.03"; what is not within its limits has another mark.
[[nodiscard]] std::string figure_line(const bench::CheckFigure& figure);

/// "zero 1 V, residual 3 V, held 4630 V"
[[nodiscard]] std::string readings_text(const work::RunReadings& readings);

/// A decay time and its level: "t(0.1) 0.2381(19) s".
[[nodiscard]] std::string short_levels(const decay::Figures& figures);

}  // namespace ebbtide::cli
