#pragma once
// What an amended report changes: it is compared with the report that it replaces, figure by figure, and the
// differences are written in words beside those that the person states.

#include <nlohmann/json.hpp>
#include <string>
#include <vector>

#include "basis/result.hpp"
#include "record/order_record.hpp"
#include "work/order_files.hpp"

namespace ebbtide::work {

/// Fills `amended` and adds the replaced report to the inputs, when the order names one and is judged under
/// its own terms. Errors: it cannot be read, is no report of this order, of another revision or day of issue
/// than [amendment] says, or was made under other terms.
[[nodiscard]] Result<Done> compare_with_replaced(record::OrderRecord& record, const OrderFiles& files);

/// Differences between two records of one order (ebbtide.record/1) in words. The first line names what none
/// of `stated`, a person's own list of changes, mentions by a word; then the differences, weightiest first,
/// eight of each kind and the rest counted. One line that says so when there are none.
[[nodiscard]] std::vector<std::string> differences_in_words(const nlohmann::json& was,
                                                            const nlohmann::json& is,
                                                            const std::vector<std::string>& stated);

}  // namespace ebbtide::work
