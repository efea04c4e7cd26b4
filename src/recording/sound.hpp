#pragma once
// Recordings as sound files: WAV (RIFF, RF64, W64) and AIFF. docs/formats/sound.md says what is read.

#include <memory>
#include <string_view>

#include "recording/bytes.hpp"
#include "recording/source.hpp"

namespace ebbtide::recording {

/// Told by the first 16 bytes.
[[nodiscard]] bool looks_like_sound(std::string_view head);

/// Errors: damaged beyond reading; samples compressed with loss; no samples; several channels and nothing
/// that says which is the specimen's; more than 1 GiB from a pipe.
[[nodiscard]] Result<std::unique_ptr<Source>> open_sound(Bytes bytes, const ReadOptions& options);

}  // namespace ebbtide::recording
