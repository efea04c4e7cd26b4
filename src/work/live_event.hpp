#pragma once
// What happens while a bench is listened to or driven, as one stream of events for any number of sinks: the
// terminal, lines of JSON, later the page. docs/formats/live.md lists them.

#include <cstdint>
#include <functional>
#include <optional>
#include <string>
#include <variant>
#include <vector>

#include "plan/order.hpp"
#include "trace/channel.hpp"
#include "work/measure.hpp"

namespace ebbtide::work {

/// The reader has understood what comes.
struct SourceOpened {
    std::string source;  ///< as the person named it
    std::string format, dialect;
    std::string ceiling;  ///< what the line carries at most, in words; empty where nothing limits it
    std::vector<trace::ChannelDescription> channels;
};

/// Samples of a tenth of a second of the recording's own time, thinned.
struct Frame {
    struct Channel {
        std::uint64_t samples = 0;  ///< none: the other numbers say nothing
        double lowest = 0, highest = 0, mean = 0;
    };
    double from_s = 0, to_s = 0;    ///< first and last sample
    std::vector<Channel> channels;  ///< in the order of SourceOpened::channels, in their units
};

/// A charge has begun. It may turn out to be noise: then nothing more is heard of it.
struct RunBegun {
    double charge_start_s = 0;
};

/// The fall is over: figures without its tail, which is still awaited. They are not the ones that count.
struct RunFallen {
    decay::Figures figures;
};

/// A run was cut, measured, and, where there is an order, kept: its file and its place are on the disk.
struct RunRecorded {
    MeasuredRun run;                    ///< with an order: with the flags that the method raises
    std::string recording;              ///< SHA-256 of the container that holds this run alone
    std::string file;                   ///< relative to the order's folder; empty without one
    std::optional<plan::RunKey> place;  ///< of the plan
    std::string retest_cause;           ///< it repeats the run before it at this place, for this cause
    bool counts = true, fails = false;  ///< as the method has it
    bool in_ledger = false;
};

/// A person moved a run to another place, or set it aside.
struct RunCorrected {
    std::string file;
    std::optional<plan::RunKey> place;
    std::string set_aside, retest_cause;
};

struct NoticeSeen {
    trace::Notice notice;
};

/// Something that the person should know or do, in words.
struct Prompt {
    std::string text;
};

struct SourceEnded {
    std::string reason;  ///< in words: "the sender has closed", "the link is lost: ..."
    bool lost = false;   ///< not in good order
    std::uint64_t runs = 0, bytes = 0;
    std::string sha256;  ///< of all bytes taken; empty where they were not hashed
};

// Of a bench that is driven:

/// `phase` is one of the design's words. Each guard says what it waits for and whether that is so.
struct PhaseEntered {
    struct Guard {
        std::string words;
        bool met = false;
    };
    std::string phase;
    std::vector<Guard> guards;
};

struct CommandSent {
    std::string command;  ///< as bench::name_of() has it
    std::optional<double> voltage_V;
};

using LiveEvent = std::variant<SourceOpened, Frame, RunBegun, RunFallen, RunRecorded, RunCorrected,
                               NoticeSeen, Prompt, SourceEnded, PhaseEntered, CommandSent>;

/// Called in the order of events, from the thread that measures. It must not throw.
using LiveSink = std::function<void(const LiveEvent&)>;

}  // namespace ebbtide::work
