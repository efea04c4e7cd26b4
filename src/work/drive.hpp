#pragma once
// Drives a bench through the open places of an order: mounts by prompt, one guarded run a place, one
// recording a run, every command logged. docs/formats/drive.md.

#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "basis/result.hpp"
#include "bench/bench_check.hpp"
#include "bench/guarded_bench.hpp"
#include "record/order_record.hpp"
#include "work/drive_log.hpp"
#include "work/drive_plan.hpp"
#include "work/live_event.hpp"

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

/// What is asked of the person at the bench.
struct Question {
    enum class Kind {
        setup,  ///< one line of the laboratory's list is done
        mount,  ///< the specimen hangs in the clamps and is neutralised, the door is closed
        leave,  ///< replicates ran unattended as many times as they may, or a pause was asked for
        look,   ///< after an abort: try again, or leave this place open
    } kind = Kind::mount;
    std::string words;
    std::optional<plan::RunKey> key = {};        ///< of mount in an order
    std::optional<bench::Mounted> mounted = {};  ///< of mount in a bench check
};
[[nodiscard]] std::string_view name_of(Question::Kind kind);
enum class Answer { done, skip, stop };

/// The person at the bench, or who stands in for one.
struct Person {
    std::function<Answer(const Question&)> ask;
    std::function<bool()> stop = {};   ///< at once, from any phase
    std::function<bool()> pause = {};  ///< before the next run; asked once a run
};

/// A run that was tried.
struct DrivenRun {
    plan::RunKey key;
    std::string file;  ///< what there is of it, relative to the order's folder; empty: nothing
    bool recorded = false;
    std::string words;  ///< what is wrong and how to mend it; empty when it was recorded and counts
    std::optional<double> zero_V = {}, residual_V = {}, held_V = {};
    bool accepted = false, level_reached = false;
    std::optional<RunRecorded> kept = {};  ///< its figures, flags and place, once it is on the disk
};

/// Who watches. Each may be empty.
struct DriveSinks {
    std::function<void(const nlohmann::json&)> line = {};         ///< every line of the log
    std::function<void(const bench::Happening&)> happening = {};  ///< the same for a screen
    std::function<void(const DrivenRun&)> run = {};
    std::function<void(const std::string&)> say = {};  ///< what is said once: how many places, what was found
    std::function<void(const bench::Observation&, const bench::RunState&)> samples = {};
};

struct DriveAnswer {
    std::string order;
    std::vector<DrivenRun> runs;
    std::size_t open_before = 0, open_after = 0;
    bool found_on = false;    ///< the output was found on at the start
    std::string ended;        ///< why it ended before the plan was done; empty: it is done
    std::string may_be_live;  ///< what could not be shown to be off at the end
};

/// Errors: those of LiveOrder::open() and open_places(); no good bench check and no override, or an override
/// without a name; a recording or the log cannot be written; the person cannot be asked (no `ask`).
/// Whatever the way out, output_off and earth_clamps were sent.
[[nodiscard]] Result<DriveAnswer> drive(bench::Bench& bench, const DriveRequest& request,
                                        const Person& person, const DriveSinks& sinks);

/// The documents of an order to drive. One that was never worked on live has no live file yet: it reads as
/// an empty one. Errors: as read_documents(); the order names no live file.
[[nodiscard]] Result<record::OrderRecord> documents_to_drive(const std::string& folder);

/// The bench of an order to drive: the file that the request names, or the order's own. Errors: as
/// parse_bench(); another bench than the order's; it has no [drive].
[[nodiscard]] Result<plan::Bench> bench_to_drive(const std::string& bench_file,
                                                 const std::optional<plan::Bench>& own);

/// ebbtide.drive/1, kind "end".
[[nodiscard]] nlohmann::json json_of(const DriveAnswer& answer);

[[nodiscard]] bench::Scales scales_of(const plan::Bench& bench);

}  // namespace ebbtide::work
