#pragma once
// What happens while a bench is listened to or driven, as one stream of events for any number of sinks: the
// terminal, lines of JSON, the log, the page. docs/formats/live.md lists them.

#include <cstdint>
#include <functional>
#include <optional>
#include <string>
#include <variant>
#include <vector>

#include "basis/instant.hpp"
#include "bench/bench_check.hpp"
#include "plan/order.hpp"
#include "trace/channel.hpp"
#include "work/live_plan.hpp"
#include "work/measure.hpp"
#include "work/person.hpp"

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

/// The plan of an order as it stands: at the beginning, and when a run has gone to its place.
struct PlanChanged {
    std::vector<PlanPlace> places;
    std::optional<std::size_t> next;  ///< where the next run goes; nothing when the plan is full
    /// The next run is a reference run and goes to no place.
    std::optional<plan::Mounted> reference = {};
};

/// Heard: a charge has begun. It may turn out to be noise: then nothing more is heard of it. Driven: the
/// bench is asked for a run.
struct RunBegun {
    std::optional<double> charge_start_s = {};  ///< heard
    std::optional<plan::RunKey> place = {};     ///< driven in an order
    std::string step = {};                      ///< driven in a bench check: "plate +"
    std::optional<double> bench_s = {};         ///< driven
};

/// The fall is over: figures without its tail, which is still awaited. They are not the ones that count.
struct RunFallen {
    decay::Figures figures;
};

/// What a guarded run read by itself, for the person at the bench: figures are taken from the recording.
struct RunReadings {
    std::optional<double> zero_V = {}, residual_V = {};
    std::optional<double> held_V = {};  ///< on the electrode's side, less zero
    bool accepted = false, level_reached = false;
    std::optional<double> temperature_C = {},
                          relative_humidity_percent = {};  ///< as the bench last read them
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
    std::optional<plan::Mounted> reference = {};  ///< it is a reference run, of this
    std::vector<bench::CheckFigure> check = {};   ///< of one: held against the bench's limits
    std::optional<RunReadings> readings = {};     ///< driven
    std::string words = {};                       ///< driven: why it does not count and what mends it
    std::optional<double> bench_s = {};           ///< driven
};

/// A person moved a run to another place, or set it aside.
struct RunCorrected {
    std::string file;
    std::optional<plan::RunKey> place;
    std::string set_aside, retest_cause;
    std::string who = {}, why = {};
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

// Of a bench that is driven. `bench_s` is its own clock: seconds since it was opened.

struct SessionBegun {
    enum class Kind { order, check } kind = Kind::order;
    std::string order;  ///< its id; empty in a check
    int revision = 1;
    std::string bench, bench_revision;
    std::string who;       ///< initials
    std::string sequence;  ///< of an order
    std::uint64_t seed = 0;
    bool closing = false;  ///< of a check
    bool heard = false;    ///< of a check: the bench keeps its own controls
    std::size_t open = 0;  ///< places of the plan, or steps of the check
    bool dry_run = false;
    double bench_s = 0;
};

/// What the bench was doing when it was first looked at. It was switched off and earthed in any case.
struct BenchFound {
    bool output_was_on = false;
    std::string words;
    double bench_s = 0;
};

/// A condition that a run waits for before it goes on.
struct LiveGuard {
    std::string name;              ///< as in the table of docs/formats/drive.md
    std::string words;             ///< what must hold
    std::string remedy;            ///< what mends it; empty for what time mends
    std::optional<bool> met = {};  ///< nothing: not read to its end yet
};

/// Another phase began. Nothing is known of its guards yet.
struct PhaseEntered {
    std::string phase;    ///< as in docs/formats/drive.md
    std::string because;  ///< the event that led there
    std::string words;
    std::vector<LiveGuard> guards = {};
    double bench_s = 0;
    std::optional<double> lasts_s = {};  ///< where nothing holds it up; nothing: not set beforehand
};

/// What a phase waits for is something else than before.
struct GuardsChanged {
    std::string phase;
    std::string words;
    std::vector<LiveGuard> guards;
    double bench_s = 0;
};

struct CommandSent {
    std::string phase;
    std::string command;  ///< as bench::name_of() has it
    std::optional<double> voltage_V = {};
    std::string words = {};
    double bench_s = 0;
};

/// It was not taken, or did not leave. Nothing but what makes the bench safe is sent behind it.
struct CommandRefused {
    std::string phase;
    std::string command;
    std::optional<double> voltage_V = {};
    std::string words = {};  ///< with the bench's own
    double bench_s = 0;
};

/// What could not be shown to be off.
struct MayBeLive {
    std::string phase, words;
    double bench_s = 0;
};

struct QuestionAsked {
    Question question;
    double bench_s = 0;
};
struct QuestionAnswered {
    Question question;
    Answer answer = Answer::stop;
    std::string who;
    double bench_s = 0;
};

/// Work starts without a good bench check, and a person answers for it.
struct CheckOverridden {
    std::string who, reason;
    std::string words;  ///< why it should not have started
    double bench_s = 0;
};

/// A run that goes to no place of a plan is whole: a step of a bench check, or a run of a dry run.
struct StepRecorded {
    std::optional<plan::RunKey> place = {};  ///< of a dry run
    std::string step = {}, file = {};        ///< of a check; the file is beside its record
    RunReadings readings = {};
    double bench_s = 0;
};

/// A run that was stopped, or in whose recording no run was found. What there is of it is kept and counts for
/// nothing.
struct RunAborted {
    std::optional<plan::RunKey> place = {};
    std::string step = {};
    std::string file = {};   ///< empty: there is nothing
    std::string words = {};  ///< what is wrong and how to mend it
    RunReadings readings = {};
    bool recorded = false;  ///< to its end
    double bench_s = 0;
};

/// What a session before was writing when it was killed is kept as this file.
struct RunBrokenOff {
    std::string file;
    double bench_s = 0;
};

/// The figures of a bench check, with their limits.
struct BenchChecked {
    bool closing = false, good = false;
    std::string reason;  ///< what it failed on; empty when good
    std::vector<bench::CheckFigure> figures;
    std::optional<Instant> good_until = {};
    std::string file = {};  ///< of its record
    double bench_s = 0;
};

struct SessionEnded {
    SessionBegun::Kind kind = SessionBegun::Kind::order;
    std::string order;
    bool done = false;                      ///< the plan is full, or the check went through all its steps
    std::string words;                      ///< why not; empty when done
    std::size_t recorded = 0, aborted = 0;  ///< runs of this session
    std::size_t open = 0;                   ///< places, or steps, left
    bool found_on = false;                  ///< the output was found on at the start
    std::string may_be_live;                ///< what could not be shown to be off; empty when all was
    double bench_s = 0;
};

using LiveEvent =
    std::variant<SourceOpened, Frame, PlanChanged, RunBegun, RunFallen, RunRecorded, RunCorrected, NoticeSeen,
                 Prompt, SourceEnded, SessionBegun, BenchFound, PhaseEntered, GuardsChanged, CommandSent,
                 CommandRefused, MayBeLive, QuestionAsked, QuestionAnswered, CheckOverridden, StepRecorded,
                 RunAborted, RunBrokenOff, BenchChecked, SessionEnded>;

/// Called in the order of events, from the thread that measures. It must not throw.
using LiveSink = std::function<void(const LiveEvent&)>;

}  // namespace ebbtide::work
