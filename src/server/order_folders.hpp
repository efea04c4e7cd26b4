#pragma once
// The orders that are served: names from outside are looked up among them, never joined to a path.

#include <map>
#include <string>
#include <vector>

#include "basis/result.hpp"

namespace ebbtide::server {

struct OrderFolder {
    std::string key;     ///< name of the folder
    std::string folder;  ///< path
};

/// The folder itself and those in it that hold an order.toml, hidden ones left out, in natural order. Error:
/// the folder cannot be read.
[[nodiscard]] Result<std::vector<OrderFolder>> order_folders(const std::string& served);
/// Their keys by the ids of their orders. What cannot be read has none.
[[nodiscard]] std::map<std::string, std::vector<std::string>> keys_by_order_id(const std::string& served);

}  // namespace ebbtide::server
