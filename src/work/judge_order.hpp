#pragma once
// Judges an order: reads its documents and recordings, measures, judges, and keeps it all in one record.

#include <functional>
#include <map>
#include <memory>
#include <string>

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

/// `made` is the time set on the record. Errors: a document is wrong (file and line); a cited edition is not
/// the one found; a trace of another apparatus than the method's; a recording cannot be read; the runs of a
/// large one cannot be set aside.
[[nodiscard]] Result<JudgedOrder> judge_order(const OrderFiles& files, Instant made,
                                              const Progress& progress = {}, const Retention& retention = {});

/// The report's input: the record with every file it rests on. Of recordings above the limit of
/// JudgedOrder::retention their runs are attached; where these are too much, they are only named.
[[nodiscard]] Result<report::ReportInput> report_input(const OrderFiles& files, JudgedOrder judged);

}  // namespace ebbtide::work
