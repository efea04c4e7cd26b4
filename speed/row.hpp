#pragma once
// A row of the speed table: one piece of work, ours beside the tools a person would use instead, in the same
// run.
//
// Machines shared with other work change speed within a run, so the contenders take turns (A B C, A B C, ...)
// and only ratios between them count. Each turn also returns an answer; contenders whose answers differ did
// not do the same work.

#include <functional>
#include <optional>
#include <string>
#include <vector>

namespace ebbtide::speed {

/// One turn of a contender.
struct Lap {
    double seconds = 0;
    double answer = 0;  ///< a figure that every contender must reach, e.g. a sum of all numbers read
};
using Turn = std::function<Lap()>;

struct Contender {
    std::string name;
    Turn turn;
    bool checks_answer = true;  ///< false for a floor that does less than the work, e.g. a plain read
};

/// What the row promises. `against` names a contender and `at_least` is its time over ours; without it
/// `at_least` is our rate in the row's unit a second.
struct Goal {
    std::string words;
    std::string against;
    double at_least = 0;
    std::string by = {};  ///< which of ours reaches it; empty: the first
};

/// What the times do not say: where ours goes, how often a contender succeeds.
struct Finding {
    std::string words;
    std::optional<bool> met = {};  ///< when it is a promise
};

struct GrowthPoint {
    double amount = 0;
    Turn turn;
};

struct Row {
    std::string id;    ///< as named on the command line
    std::string work;  ///< in words
    std::string size;  ///< in words
    double amount = 0;
    std::string unit;  ///< of amount: "MB", "samples"
    Contender ours;
    std::vector<Contender> ours_too = {};  ///< other ways of ours, e.g. on two cores
    std::vector<Contender> peers;
    std::vector<Goal> goals;
    std::string limit;                                    ///< what keeps it from being faster
    std::vector<GrowthPoint> growth;                      ///< smallest first, over three decades
    std::string growth_unit = {};                         ///< of its amounts; empty: as `unit`
    double answer_tolerance = 1e-9;                       ///< relative
    std::function<std::vector<Finding>()> findings = {};  ///< asked after all turns
};

/// Runs the row and prints it on standard output. True when every goal is met and all answers agree.
bool run(const Row& row);

/// Seconds that `work` took by the steady clock.
[[nodiscard]] double seconds_of(const std::function<void()>& work);

/// Processor seconds that this thread spent on `work`: for rows of computing on one core, where a peer that
/// runs longer than a time slice would otherwise be charged for the work of others.
[[nodiscard]] double processor_seconds_of(const std::function<void()>& work);

/// Keeps the compiler from dropping work whose result nobody reads.
inline void keep(const double& value) {
    asm volatile("" : : "g"(&value) : "memory");
}

// One function a row; `folder` is where it may lay its data.
[[nodiscard]] Row text_row(const std::string& folder);
[[nodiscard]] Row archive_row(const std::string& folder);
[[nodiscard]] Row cutter_row(const std::string& folder);
[[nodiscard]] Row two_exponentials_row(const std::string& folder);
[[nodiscard]] Row hard_set_row(const std::string& folder);
[[nodiscard]] Row stretched_row(const std::string& folder);
[[nodiscard]] Row monte_carlo_row(const std::string& folder);
[[nodiscard]] Row lot_row(const std::string& folder);
[[nodiscard]] Row lot_shares_row(const std::string& folder);
[[nodiscard]] Row sheet_row(const std::string& folder);
[[nodiscard]] Row sheet_field_row(const std::string& folder);
[[nodiscard]] Row inversion_row(const std::string& folder);
[[nodiscard]] Row ledger_writes_row(const std::string& folder);
[[nodiscard]] Row ledger_trend_row(const std::string& folder);
[[nodiscard]] Row ledger_find_row(const std::string& folder);
[[nodiscard]] Row page_frames_row(const std::string& folder);

/// The ledger of a million runs that the rows above read, for whoever measures with it (web/speed.mjs).
/// Throws.
void fill_million(const std::string& ledger);

}  // namespace ebbtide::speed
