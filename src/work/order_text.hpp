#pragma once
// An order as the text of its file: what parse_order() reads back as the same order.

#include <string>

#include "plan/order.hpp"

namespace ebbtide::work {

/// Everything but recordings, folders, supplied results and amendments, which come later. Texts are kept byte
/// for byte. Expects UTF-8.
[[nodiscard]] std::string order_text(const plan::Order& order);

}  // namespace ebbtide::work
