#pragma once
// Recordings as delimited text, of any oscilloscope, logger or microcontroller: see
// docs/formats/delimited-text.md for what is recognised and how.

#include <memory>

#include "recording/bytes.hpp"
#include "recording/source.hpp"

namespace ebbtide::recording {

/// Looks at the head of the bytes, settles layout and channels, and yields the samples. Errors as for open().
[[nodiscard]] Result<std::unique_ptr<Source>> open_delimited_text(Bytes bytes, const ReadOptions& options);

}  // namespace ebbtide::recording
