#pragma once
// An order's folder while its runs are heard: which run goes where, kept on the disk run by run.

#include <deque>
#include <map>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "basis/instant.hpp"
#include "basis/result.hpp"
#include "ledger/database.hpp"
#include "record/order_record.hpp"
#include "work/live_event.hpp"
#include "work/live_plan.hpp"
#include "work/measure.hpp"
#include "work/measure_order.hpp"
#include "work/reference_runs.hpp"
#include "work/run_container.hpp"

namespace ebbtide::work {

/// The live file of an order of which no run was heard yet.
[[nodiscard]] std::string empty_live_text(const std::string& order);

struct LiveOrderRequest {
    std::string folder;
    std::string conditions;  ///< id of those that hold today; may be empty where the order has one
    std::string ledger;      ///< file; empty: none
    Instant started;         ///< names the files
};

/// Who corrects, why and when.
struct Correction {
    std::string who;  ///< initials
    std::string why;
    Instant at;
};

/// One thread. A run is on the disk, and in the ledger, when keep() has returned. Being ended at any moment
/// leaves every run of which that is true; a run that is heard again is not kept twice.
class LiveOrder {
  public:
    /// Makes the order's live file where there is none yet. Errors: those of the order's documents; no 'live'
    /// key; conditions not named or unknown; the ledger does not open.
    [[nodiscard]] static Result<std::unique_ptr<LiveOrder>> open(const LiveOrderRequest& request);

    [[nodiscard]] const record::OrderRecord& record() const { return record_; }
    /// As the order's runs are measured, but for a V0 that comes from a reference run.
    [[nodiscard]] MeasureRequest measure_request() const;
    /// Names of channels as the bench has them, where `read` names none.
    void name_channels(recording::ReadOptions& read) const { name_as_bench(read, record_.bench); }
    [[nodiscard]] const std::vector<PlanPlace>& places() const { return places_; }
    /// Where the next run goes; nothing when the plan is full.
    [[nodiscard]] std::optional<std::size_t> next_place() const { return next_; }
    /// What hangs there, where the next run is a reference run: it goes to no place.
    [[nodiscard]] std::optional<plan::Mounted> next_reference() const {
        return references_.empty() ? std::nullopt : std::optional(references_.front());
    }
    /// The method takes V0 from a reference run of the empty fixture, and there is none yet.
    [[nodiscard]] bool lacks_reference() const { return record_.method.reference_run && levels_.empty(); }
    /// Files of runs that lie in the folder and have no place in the live file: writing was broken off
    /// between the two.
    [[nodiscard]] const std::vector<std::string>& strays() const { return strays_; }

    /// Lays the run on the next open place, with the flags that the method raises there, and writes it down.
    /// A reference run is measured as a bench check does, held against the bench's limits, and goes to no
    /// place. Nothing when the run is there already. Errors: the folder or the ledger cannot be written.
    [[nodiscard]] Result<std::optional<RunRecorded>> keep(const MeasuredRun& run,
                                                          const RunContainer& container,
                                                          const std::string& source, Instant now);

    /// Says where the next run goes.
    [[nodiscard]] Result<Done> choose(std::size_t place);
    /// Says that the next runs are reference runs, of these in their order; those behind go along the plan.
    void expect_references(const std::vector<plan::Mounted>& mounted);
    /// Corrections of the run that was kept last; each is written down beside the run, which stays. Errors:
    /// there is none; nobody is named, or no cause; the folder cannot be written.
    [[nodiscard]] Result<RunCorrected> move_last(std::size_t place, const Correction& correction);
    [[nodiscard]] Result<RunCorrected> set_last_aside(const Correction& correction);
    /// The next run repeats it, for this cause.
    [[nodiscard]] Result<Done> retest_last(const std::string& cause);

    /// A path for another file of this session: "recordings/live-20261125T234501Z-all.ebbrec".
    [[nodiscard]] std::string session_file(const std::string& what) const;
    [[nodiscard]] const std::string& folder() const { return folder_; }

  private:
    LiveOrder() = default;
    struct Kept {
        std::string file;
        std::optional<std::size_t> place;
        plan::RunKey key;
        bool counts = true;
        MeasuredRun run = {};
    };
    [[nodiscard]] Result<Done> take_in(std::string text);
    [[nodiscard]] Result<std::string> take_to_place(RunRecorded& out, Kept& kept,
                                                    const RunContainer& container);
    [[nodiscard]] Result<Done> append(const std::string& block);
    [[nodiscard]] Result<Done> into_ledger(const std::string& container, Instant now);
    [[nodiscard]] std::optional<std::size_t> place_of(const plan::RunKey& key) const;

    std::string folder_, live_name_, live_text_, session_, conditions_;
    record::OrderRecord record_;
    std::vector<PlanPlace> places_;
    std::optional<std::size_t> next_;
    std::deque<plan::Mounted> references_;        // of the next runs
    ReferenceLevels levels_;                      // where the method takes V0 from them
    std::map<std::string, std::string> file_of_;  // by run id
    std::vector<std::string> strays_;
    std::size_t number_ = 0;
    std::string retest_cause_;  // of the next run
    std::optional<Kept> last_;
    std::optional<ledger::Database> ledger_;
};

}  // namespace ebbtide::work
