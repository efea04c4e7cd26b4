#pragma once
// What a report is made of: the record with every file it rests on.

#include "work/judge_order.hpp"

namespace ebbtide::work {

/// Of recordings above the limit of JudgedOrder::retention their runs are attached; where these are too much,
/// they are only named. A replaced report is not attached where it would bring all attachments above that
/// limit. Error: a file changed since it was judged.
[[nodiscard]] Result<report::ReportInput> report_input(const OrderFiles& files, JudgedOrder judged);

}  // namespace ebbtide::work
