#pragma once
// Judges an order: reads its documents and recordings, measures, judges, and keeps it all in one record.

#include <functional>
#include <map>
#include <string>

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

/// `made` is the time set on the record. Errors: a document is wrong (file and line); a cited edition is not the one found; a
/// trace of another apparatus than the method's; a recording cannot be read.
[[nodiscard]] Result<JudgedOrder> judge_order(const OrderFiles& files, Instant made, const Progress& progress = {});

/// The report's input: the record with every file it rests on. Recordings above 64 MiB are named, not attached.
[[nodiscard]] Result<report::ReportInput> report_input(const OrderFiles& files, JudgedOrder judged);

}  // namespace ebbtide::work
