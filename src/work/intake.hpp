#pragma once
// Takes an order in: makes its folder, once what is to stand in it reads as an order.

#include <string>
#include <vector>

#include "basis/result.hpp"
#include "plan/order.hpp"

namespace ebbtide::work {

struct Intake {
    std::string key;    ///< name of the folder to be made; empty: made of the order's id
    plan::Order order;  ///< its live file is set here, its bench file where there is a text of one
    std::string bench;  ///< text of the bench file; empty: none
};

struct TakenIn {
    std::string key, folder;
    std::vector<std::string> files;  ///< names within the folder
};

/// Makes FOLDER/KEY with order.toml, live.toml and bench.toml: whole, on the disk, or not at all. Editions
/// that the order leaves out are those of the shipped documents. Nothing is overwritten. Errors: what
/// read_documents() refuses, in its words; a key that is no name of a folder, or taken.
[[nodiscard]] Result<TakenIn> take_in(const std::string& folder, Intake intake);

/// Letters, digits, '-', '_' and '.', at most 64, not beginning with '.'.
[[nodiscard]] bool is_key(const std::string& text);

}  // namespace ebbtide::work
