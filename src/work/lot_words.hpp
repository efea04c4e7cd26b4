#pragma once
// What a lot's figures mean, for people without statistics.

#include "work/lot.hpp"

namespace ebbtide::work {

/// Sets `reasons` and `cautions` from everything else.
void say_in_words(Lot& lot);

/// Why the lot passed, failed or stayed open, for a reader who knows no statistics: one paragraph that names
/// the limit, the typical time, the longest, how many were over, and the bound. Empty without a limit.
[[nodiscard]] std::string plain_words_of(const Lot& lot);

/// A probability in percent: "under 0.1 %", "12 %".
[[nodiscard]] std::string chance_text(double p);
/// "0.512 s".
[[nodiscard]] std::string seconds_text(double time_s);
/// "0.3 to 0.5 s", "at least 0.3 s".
[[nodiscard]] std::string range_text(const stats::ConfidenceInterval& interval);

}  // namespace ebbtide::work
