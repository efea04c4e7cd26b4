#pragma once
// Judges an order: reads its documents and recordings, measures, judges, and keeps it all in one record.

#include <functional>
#include <map>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "basis/result.hpp"
#include "record/order_record.hpp"
#include "report/report.hpp"
#include "work/order_files.hpp"
#include "work/retention.hpp"

namespace ebbtide::work {

struct JudgedOrder {
    record::OrderRecord record;
    std::map<std::string, report::PlotTrace> traces;  ///< by run id, thinned for plots
    Retention retention = {};
    std::map<std::string, std::shared_ptr<const KeptRunsFile>> kept_runs = {};  ///< by attachment name
};

/// Progress: called before each recording with its name, its number from 1 and how many there are.
using Progress = std::function<void(const std::string& name, std::size_t number, std::size_t count)>;

/// An order's documents and the runs of its recordings, not yet judged.
struct MeasuredOrder {
    JudgedOrder judged;  ///< all but the judgement; its specification is the one that the order cites
    std::vector<judge::JudgedRun> runs;
    std::optional<plan::Specification> other;  ///< that the terms name instead
};

/// Judges an order, under other terms than its own when there are any. `made` is the time set on the record.
/// Errors: a document is wrong (file and line); a cited edition is not the one found; a trace of another
/// apparatus than the method's; a recording cannot be read; the runs of a large one cannot be set
/// aside; the report that this one replaces is another.
[[nodiscard]] Result<JudgedOrder> judge_order(const OrderFiles& files, Instant made,
                                              const Progress& progress = {}, const plan::Terms& terms = {},
                                              const Retention& retention = {});

/// Reads everything once, and takes decay times to every level that the method, the cited specification or
/// the terms ask for.
[[nodiscard]] Result<MeasuredOrder> measure_order(const OrderFiles& files, Instant made,
                                                  const Progress& progress, const plan::Terms& terms,
                                                  const Retention& retention = {});
/// The judgement under the order's own terms, or under `terms`.
[[nodiscard]] judge::Judgement judgement_of(const MeasuredOrder& measured, const plan::Terms& terms);
/// The whole record; its specification is the one that was applied.
[[nodiscard]] JudgedOrder judged_under(MeasuredOrder measured, const plan::Terms& terms);

/// The report's input: the record with every file it rests on. Of recordings above the limit of
/// JudgedOrder::retention their runs are attached; where these are too much, they are only named. A replaced
/// report is not attached where it would bring all attachments above that limit.
[[nodiscard]] Result<report::ReportInput> report_input(const OrderFiles& files, JudgedOrder judged);

}  // namespace ebbtide::work
