#pragma once
// Words and numbers for the terminal: 80 columns, no colour needed.

#include <string>

#include "basis/result.hpp"
#include "judge/judgement.hpp"
#include "record/order_record.hpp"
#include "work/fit_runs.hpp"
#include "work/measure.hpp"
#include "work/rejudge.hpp"

namespace ebbtide::cli {

/// Prints on standard error. A message that nobody can receive is no reason to stop.
void tell(const std::string& message);

/// Prints "ebbtide: where: what. remedy" on standard error and returns the exit code.
int complain(const Error& error);

[[nodiscard]] std::string text_of(const work::MeasuredFile& file);
/// Figures and flags of one run, without its number.
[[nodiscard]] std::string text_of(const work::MeasuredRun& run);
/// Runs with their laws: what was chosen, all candidates, what is left over.
[[nodiscard]] std::string text_of(const std::string& name, const work::FittedFile& file);
[[nodiscard]] std::string text_of(const record::OrderRecord& record);
/// Both statements, what differs, then the judgement under the other terms as text_of(record) has it.
[[nodiscard]] std::string text_of(const work::Rejudged& rejudged);
/// A shape and a word: "● pass".
[[nodiscard]] std::string shape_and_word(plan::Conformity conformity);

/// `text` broken at spaces to `width` columns, following lines indented.
[[nodiscard]] std::string wrapped(const std::string& text, std::size_t width, std::size_t indent);

/// A flag with its consequence, broken at the width of the screen.
[[nodiscard]] std::string flag_text(const plan::Flag& flag);

/// Every line moved to the right, and a line end.
[[nodiscard]] std::string indented(const std::string& text, std::size_t by);

/// Columns of the terminal that are reckoned with.
inline constexpr std::size_t screen = 80;

/// Characters as seen, not bytes.
[[nodiscard]] std::size_t seen_columns(const std::string& text);

/// `text` padded to `columns` characters as seen, not bytes.
[[nodiscard]] std::string padded(const std::string& text, std::size_t columns);

}  // namespace ebbtide::cli
