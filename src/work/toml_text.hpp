#pragma once
// Words as TOML has them.

#include <string>
#include <string_view>

namespace ebbtide::work {

/// A text between quotes that reads back as it was, whatever is in it. Expects UTF-8.
[[nodiscard]] std::string toml_text(std::string_view text);

}  // namespace ebbtide::work
