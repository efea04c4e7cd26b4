#pragma once
// Judges an order: reads its documents and recordings, measures, judges, and keeps it all in one record.

#include <functional>
#include <map>
#include <optional>
#include <string>
#include <vector>

#include "basis/result.hpp"
#include "record/order_record.hpp"
#include "report/report.hpp"
#include "work/order_files.hpp"

namespace ebbtide::work {

struct JudgedOrder {
    record::OrderRecord record;
    std::map<std::string, report::PlotTrace> traces;  ///< by run id, thinned for plots
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
/// apparatus than the method's; a recording cannot be read; the report that this one replaces is another.
[[nodiscard]] Result<JudgedOrder> judge_order(const OrderFiles& files, Instant made,
                                              const Progress& progress = {}, const plan::Terms& terms = {});

/// Reads everything once, and takes decay times to every level that the method, the cited specification or
/// the terms ask for.
[[nodiscard]] Result<MeasuredOrder> measure_order(const OrderFiles& files, Instant made,
                                                  const Progress& progress, const plan::Terms& terms);
/// The judgement under the order's own terms, or under `terms`.
[[nodiscard]] judge::Judgement judgement_of(const MeasuredOrder& measured, const plan::Terms& terms);
/// The whole record; its specification is the one that was applied.
[[nodiscard]] JudgedOrder judged_under(MeasuredOrder measured, const plan::Terms& terms);

/// The report's input: the record with every file it rests on. Recordings above 64 MiB are named, not
/// attached; nor is a replaced report that would bring all attachments above it.
[[nodiscard]] Result<report::ReportInput> report_input(const OrderFiles& files, JudgedOrder judged);

}  // namespace ebbtide::work
