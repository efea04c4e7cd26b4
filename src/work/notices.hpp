#pragma once
// The notices of a whole recording: one a kind and column, however many there were; and the flags of those
// that a run must carry.

#include <optional>
#include <vector>

#include "plan/flag.hpp"
#include "trace/channel.hpp"

namespace ebbtide::work {

/// Counts the notice to one like it, or adds it. Damage is kept apart by its text, which names the bytes; it
/// is told twice where samples lie on both sides of it, and counts once.
void count_in(std::vector<trace::Notice>& kept, const trace::Notice& notice);

/// Nothing for a notice that harms no run.
[[nodiscard]] std::optional<plan::Flag> flag_of(const trace::Notice& notice);

}  // namespace ebbtide::work
