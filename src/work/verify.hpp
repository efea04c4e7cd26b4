#pragma once
// Works a report's figures out again from the files attached to it, and compares.

#include <nlohmann/json.hpp>
#include <string>
#include <vector>

#include "basis/result.hpp"

namespace ebbtide::work {

struct Verification {
    std::string order;
    int revision = 0;
    std::size_t figures_compared = 0;       ///< numbers, words and statuses
    std::vector<std::string> differences;   ///< in words, each with where; empty when all agree
    std::vector<std::string> not_attached;  ///< recordings too large to attach: not verified
    /// Recordings of which only the runs are attached: worked out again, but for where these begin and end.
    std::vector<std::string> kept_by_runs = {};
    std::string replaced_not_attached =
        {};  ///< report that this one replaces, of which only the hash is kept
};

/// Numbers agree to a relative 1e-9, words exactly. Errors: not a PDF of ours; an attachment that no longer
/// reads as what it was.
[[nodiscard]] Result<Verification> verify(const std::string& pdf_bytes);

/// Every place where two documents differ, as "place: was A, is B"; counts the leaves compared.
[[nodiscard]] std::vector<std::string> differences_of(const nlohmann::json& was, const nlohmann::json& is,
                                                      std::size_t& compared);

}  // namespace ebbtide::work
