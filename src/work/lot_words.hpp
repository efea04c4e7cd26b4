#pragma once
// What a lot's figures mean, for people without statistics.

#include "work/lot.hpp"

namespace ebbtide::work {

/// Sets `reasons` and `cautions` from everything else.
void say_in_words(Lot& lot);

/// "0.512 s".
[[nodiscard]] std::string seconds_text(double time_s);
/// "0.3 to 0.5 s", "at least 0.3 s".
[[nodiscard]] std::string range_text(const stats::ConfidenceInterval& interval);

}  // namespace ebbtide::work
