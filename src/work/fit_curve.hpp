#pragma once
// Laws fitted to a bare curve: a file of time and voltage, without a recording's channels and runs.

#include <string>
#include <string_view>
#include <vector>

#include "basis/result.hpp"
#include "decay/run_law.hpp"
#include "plan/level.hpp"

namespace ebbtide::work {

/// What a third column says of the voltage beside it.
enum class SigmaColumn {
    none,      ///< there is no third column
    absolute,  ///< its standard deviation, in volts
    relative,  ///< the same but for a factor that nobody knows: the residuals tell it
};

/// Seconds and volts, and sigma where it is stated, one point a line; decimal point, between them comma,
/// semicolon, tab or spaces; empty lines and lines that begin with '#' are passed over, and so is one line of
/// headings before the first numbers. Any order of times. Errors: a line that is not so many numbers or whose
/// sigma is not above zero (with its number); a third column of which nobody said what it is; no points.
[[nodiscard]] Result<fit::CurveStore> parse_pairs(std::string_view text, const std::string& file,
                                                  SigmaColumn sigma = SigmaColumn::none);

struct FitRequest {
    decay::LawQuestion question = {};
    SigmaColumn sigma = SigmaColumn::none;
    std::vector<plan::Level> levels = {};  ///< to be extrapolated to where the curve ends above them
};

/// Reads the file and fits every candidate. Standard errors know of correlated noise, but for absolute
/// sigmas, which they rest on as they are. Errors: cannot be read; those of parse_pairs; what no law can be
/// fitted to (says why).
[[nodiscard]] Result<decay::LawFigures> fit_pairs(const std::string& file, const FitRequest& request);

}  // namespace ebbtide::work
