#pragma once
// What specimens say of a lot, and plans for testing one, for the terminal.

#include <string>
#include <vector>

#include "work/lot.hpp"
#include "work/sampling.hpp"

namespace ebbtide::cli {

/// Sentences under a heading; empty without any.
[[nodiscard]] std::string bulleted(const std::vector<std::string>& lines, const char* heading);

[[nodiscard]] std::string text_of(const work::Lot& lot);
[[nodiscard]] std::string text_of(const work::Sampling& sampling);

}  // namespace ebbtide::cli
