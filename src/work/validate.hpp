#pragma once
// Runs the published checks on this computer.

#include <nlohmann/json.hpp>

#include "validation/validation.hpp"

namespace ebbtide::work {

/// Some seconds. `made` is the time that the report states.
[[nodiscard]] validation::Validation validate(Instant made);

/// All checks, by subject.
[[nodiscard]] std::vector<validation::Check> all_checks();

/// ebbtide.validation/1, docs/formats/validation.md.
[[nodiscard]] nlohmann::json json_of(const validation::Validation& validation);

}  // namespace ebbtide::work
