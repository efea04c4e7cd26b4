#pragma once
// The reports that lie in an order's folder, issued.

#include <nlohmann/json.hpp>
#include <string>
#include <vector>

namespace ebbtide::server {

/// Names of the PDF files in the folder of issued reports, in natural order.
[[nodiscard]] std::vector<std::string> issued_names(const std::string& order_folder);
/// `name`, `bytes`, `revision` of each.
[[nodiscard]] nlohmann::json issued_json(const std::string& order_folder);

}  // namespace ebbtide::server
