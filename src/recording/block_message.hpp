#pragma once
// Descriptions, blocks and errors as bytes, between two processes of this program on one machine. What comes
// in is not trusted: the process that sent it read a file from outside.

#include <optional>
#include <string>
#include <string_view>

#include "recording/source.hpp"

namespace ebbtide::recording {

[[nodiscard]] std::string packed(const Description& description);
[[nodiscard]] std::string packed(const Block& block);
[[nodiscard]] std::string packed(const Error& error);

/// Nothing when the bytes are not what packed() makes; `block` must have finite times and values, as many
/// channels as `channels`, and times that do not fall.
[[nodiscard]] std::optional<Description> unpacked_description(std::string_view bytes);
[[nodiscard]] bool unpack_block(std::string_view bytes, std::size_t channels, Block& block);
[[nodiscard]] std::optional<Error> unpacked_error(std::string_view bytes);

}  // namespace ebbtide::recording
