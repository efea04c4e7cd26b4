#pragma once
// Reads and measures all that an order names, before anything is judged.

#include <functional>
#include <map>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "basis/result.hpp"
#include "record/order_record.hpp"
#include "report/report.hpp"
#include "work/measure.hpp"
#include "work/order_files.hpp"
#include "work/reference_runs.hpp"
#include "work/retention.hpp"

namespace ebbtide::work {

/// What is asked of every run beside its figures; both take their time.
struct Depth {
    bool laws = false;         ///< the law of each fall; always where the method allows extrapolation
    bool monte_carlo = false;  ///< every budget carried through a second time
};
inline constexpr Depth full_depth{true, true};

struct JudgedOrder {
    record::OrderRecord record;
    std::map<std::string, report::PlotTrace> traces;  ///< by run id, thinned for plots
    Retention retention = {};
    Depth depth = {};
    std::map<std::string, std::shared_ptr<const KeptRunsFile>> kept_runs = {};  ///< by attachment name
};

/// The method's rules with every level that the cited specification or the terms ask for: a decay time nobody
/// took cannot be judged.
[[nodiscard]] plan::DecayRules rules_asked(const record::OrderRecord& record, const plan::Terms& terms,
                                           const std::optional<plan::Specification>& other);

/// How a recording of the plan is read: as the order has it, else as the bench has it.
[[nodiscard]] recording::ReadOptions options_for(const plan::PlannedRecording& planned,
                                                 const std::optional<plan::Bench>& bench);

/// Names of channels, and what else a recording does not say, as the bench has them where `read` names none.
void name_as_bench(recording::ReadOptions& read, const std::optional<plan::Bench>& bench);

/// What the recordings of an order are measured by.
struct OrderMeasures {
    plan::DecayRules rules;
    ReferenceLevels references;                   ///< V0, where the method takes it from other runs
    std::optional<decay::LawQuestion> laws = {};  ///< of the depth, or where the method extrapolates

    [[nodiscard]] MeasureRequest request_for(const plan::PlannedRecording& planned,
                                             const record::OrderRecord& documents) const;
};
/// Errors: those of reference_levels().
[[nodiscard]] Result<OrderMeasures> measures_of(const OrderFiles& files, const record::OrderRecord& documents,
                                                const plan::Terms& terms,
                                                const std::optional<plan::Specification>& other,
                                                bool with_laws);

/// Opens a recording of the plan; of one that is kept by its runs, these stand for it. `occurrence`: from 1,
/// where the plan names it several times.
[[nodiscard]] Result<std::unique_ptr<recording::Source>> open_planned(const OrderFiles& files,
                                                                      const plan::PlannedRecording& planned,
                                                                      std::size_t occurrence,
                                                                      recording::ReadOptions options);

/// Progress: called before each recording with its name, its number from 1 and how many there are.
using Progress = std::function<void(const std::string& name, std::size_t number, std::size_t count)>;

/// An order's documents and the runs of its recordings, not yet judged.
struct MeasuredOrder {
    JudgedOrder judged;  ///< all but the judgement; its specification is the one that the order cites
    std::vector<judge::JudgedRun> runs;
    std::optional<plan::Specification> other;  ///< that the terms name instead
};

/// Reads everything once, and takes decay times to every level that the method, the cited specification or
/// the terms ask for. `made` is the time set on the record. Errors: those of read_documents(); a recording
/// cannot be read; the runs of a large one cannot be set aside.
[[nodiscard]] Result<MeasuredOrder> measure_order(const OrderFiles& files, Instant made,
                                                  const Progress& progress, const plan::Terms& terms,
                                                  const Retention& retention = {}, Depth depth = {});

}  // namespace ebbtide::work
