#pragma once
// Laws fitted to a bare curve: a file of time and voltage, without a recording's channels and runs.

#include <string>
#include <string_view>
#include <vector>

#include "basis/result.hpp"
#include "decay/law_choice.hpp"

namespace ebbtide::work {

/// Two numbers a line, seconds and volts, decimal point, between them comma, semicolon, tab or spaces; empty
/// lines and lines that begin with '#' are passed over, and so is one line of headings before the first
/// numbers. Any order of times. Errors: a line that is not two numbers (with its number); no pairs at all.
[[nodiscard]] Result<fit::CurveStore> parse_pairs(std::string_view text, const std::string& file);

struct FitRequest {
    std::vector<decay::LawKind> kinds;  ///< candidates
    decay::Offset offset;
};

/// Reads the file and fits every candidate; standard errors know of correlated noise. Errors: cannot be read;
/// those of parse_pairs; what no law can be fitted to (says why).
[[nodiscard]] Result<decay::LawChoice> fit_pairs(const std::string& file, const FitRequest& request);

}  // namespace ebbtide::work
