#pragma once
// A file that another program is still writing: read to its end, and on as it grows.

#include <memory>
#include <string>

#include "transport/byte_stream.hpp"

namespace ebbtide::transport {

/// It never ends. Errors: cannot be opened; no plain file. While reading: the file became shorter, or another
/// one lies under its name (each said so), because what follows would be no continuation.
[[nodiscard]] Result<std::unique_ptr<ByteStream>> follow_file(const std::string& path);

}  // namespace ebbtide::transport
