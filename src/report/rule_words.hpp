#pragma once
// The decision rule in force, its guard band and its risk, in words (ISO/IEC 17025:2017, 7.8.6.1).

#include <string>
#include <vector>

#include "record/order_record.hpp"

namespace ebbtide::report {

/// For the first page: what passes, what is conditional, and how likely a wrong acceptance is at most. No
/// statistics are asked of the reader.
[[nodiscard]] std::string rule_in_short(const record::OrderRecord& record);

/// With the requirements: the rule, the guard band, the level of risk, who agreed.
[[nodiscard]] std::string rule_in_full(const record::OrderRecord& record);

/// One sentence for each requirement whose history is given: the risk of the rule before the test.
[[nodiscard]] std::vector<std::string> risks_before_the_test(const judge::Judgement& judgement);

/// "6.7 %\nof wrong acceptance"; empty when nothing is known of it.
[[nodiscard]] std::string risk_text(const judge::Finding& finding);

}  // namespace ebbtide::report
