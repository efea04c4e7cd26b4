#pragma once
// The folders of an order as the recordings that lie in them.

#include <optional>

#include "basis/result.hpp"
#include "plan/order.hpp"
#include "work/order_files.hpp"

namespace ebbtide::work {

/// Adds a planned recording of one run for each file of each folder, in natural order of their names. A file
/// that a
/// [[recording]] names is left to it. Nothing is skipped: errors, all of them at once, name each file whose
/// name does not fit, fits in two ways, or names a specimen or conditions that the order does not know; two
/// files for one run; a folder without files; a link that leads out of the order's folder.
[[nodiscard]] std::optional<Error> expand_folders(plan::Order& order, const OrderFiles& files);

}  // namespace ebbtide::work
