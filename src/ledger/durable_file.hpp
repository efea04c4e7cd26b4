#pragma once
// Files that are on the disk under their name, or not there at all.

#include <string>
#include <string_view>

#include "basis/result.hpp"

namespace ebbtide::ledger {

/// Writes a new file and waits until the disk has it. Error: it is there already; it cannot be written.
[[nodiscard]] Result<Done> write_new_file(const std::string& path, std::string_view bytes);

/// Gives a finished file or directory its name. Errors: that name is taken; the disk refuses.
[[nodiscard]] Result<Done> give_name(const std::string& part, const std::string& path);

/// Error: something of that name is there.
[[nodiscard]] Result<Done> must_be_new(const std::string& path);

/// All of a file, up to `at_most` bytes. Errors: it cannot be read, is longer, or is no regular file.
[[nodiscard]] Result<std::string> read_file(const std::string& path, std::uint64_t at_most);

}  // namespace ebbtide::ledger
