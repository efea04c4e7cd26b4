#pragma once
// What a ledger answers, for the terminal.

#include <nlohmann/json_fwd.hpp>
#include <string>
#include <vector>

#include "ledger/entries.hpp"
#include "ledger/materials.hpp"
#include "plan/conformity.hpp"

namespace ebbtide::cli {

/// "1 order", "2 orders".
[[nodiscard]] std::string counted(std::int64_t count, const char* one, const char* many);

/// The statement of this word; void for any other.
[[nodiscard]] plan::Conformity conformity_of(const std::string& word);

/// ebbtide.ledger-pedigree/1 in plain words: the figure, then what it rests on, block by block. Of a
/// statement each run has one line.
[[nodiscard]] std::string pedigree_text(const nlohmann::json& pedigree);

/// Of an object with `level` and `level_kind`: "10 %", "1/e", "500 V".
[[nodiscard]] std::string level_label(const nlohmann::json& level);

/// One block a writing: when, who, why, and what was written or withdrawn.
[[nodiscard]] std::string revisions_text(const std::vector<ledger::Entry>& revisions);

/// ebbtide.ledger-transcripts/1: two lines a time.
[[nodiscard]] std::string transcripts_text(const nlohmann::json& transcripts);

/// ebbtide.ledger-checks/1: two lines a check.
[[nodiscard]] std::string checks_text(const nlohmann::json& checks);

/// ebbtide.ledger-validations/1: two lines a validation.
[[nodiscard]] std::string validations_text(const nlohmann::json& validations);

/// Two lines a material.
[[nodiscard]] std::string materials_text(const std::vector<ledger::Material>& materials);

}  // namespace ebbtide::cli
