#pragma once
// A bounded store between a line that does not wait and whoever works on what it brings.

#include <cstddef>
#include <memory>

#include "transport/byte_stream.hpp"

namespace ebbtide::transport {

enum class WhenFull {
    wait,  ///< the sender is held up: sockets and pipes can be
    drop   ///< what comes is counted and not kept, in whole lines: a serial line cannot be held up
};

/// Reads `stream` in a thread of its own, which ends with this object. Memory: `capacity` bytes, and what one
/// read brings (64 KiB). What may be dropped is handed on in whole lines, so that a loss never makes one line
/// of two; only the end of a stream, 64 KiB without a line end, and a stream that begins with byte 0x89, as
/// binary forms do, are handed on as they are. One thread may read.
[[nodiscard]] std::unique_ptr<ByteStream> buffered(std::unique_ptr<ByteStream> stream, std::size_t capacity,
                                                   WhenFull when_full);

}  // namespace ebbtide::transport
