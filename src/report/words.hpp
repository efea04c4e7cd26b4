#pragma once
// Figures and states in the words of the report.

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "decay/figures.hpp"
#include "judge/judgement.hpp"
#include "trace/channel.hpp"

namespace ebbtide::report {

/// Written where the record holds nothing: absent is said, not hidden.
inline constexpr std::string_view not_stated = "not stated";
[[nodiscard]] std::string or_not_stated(const std::string& text);

/// "97.1 %".
[[nodiscard]] std::string percent_text(double fraction);
/// "3.2 %"; "< 0.1 %" for what would round to nothing.
[[nodiscard]] std::string probability_text(double probability);
/// With a prefix of the SI where the number would be small or large: "0.40 ms", "12 V".
[[nodiscard]] std::string prefixed_text(double value, int digits, std::string_view unit);
/// "16", "∞"; beyond what makes a difference "> 10 000".
[[nodiscard]] std::string freedom_text(const std::optional<double>& degrees_of_freedom);
/// "1, 2, 3" as "1 to 3"; "1, 3"; sorted, without repeats.
[[nodiscard]] std::string ranges_text(std::vector<int> numbers);

/// A decay time as the table of runs prints it: "0.512(31)", "> 5.00 (not reached)", "< 0.0200 (below
/// resolution)", "too noisy", "≈ 5.1 (4.2 to 7.0), extrapolated".
[[nodiscard]] std::string decay_text(const decay::LevelFigure& figure);
[[nodiscard]] std::string_view words_for(decay::LevelStatus status);
[[nodiscard]] std::string_view words_for(decay::Scope scope);
[[nodiscard]] std::string_view words_for(plan::Consequence consequence);
/// "zero unproven": the code with spaces.
[[nodiscard]] std::string words_for(plan::FlagCode code);
[[nodiscard]] std::string words_for(plan::InitialBasis basis);
[[nodiscard]] std::string words_for(trace::Notice::Kind kind);

/// "0.512(31) s; U = 0.062 s", "at least 4.90 s", "no result".
[[nodiscard]] std::string result_text(const judge::Finding& finding);

/// "W1 front dry, positive, run 2".
[[nodiscard]] std::string run_name(const plan::RunKey& key);

}  // namespace ebbtide::report
