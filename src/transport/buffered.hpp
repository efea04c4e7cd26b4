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
/// read brings (64 KiB). Whole lines are handed on, so that a loss never makes one line of two; the end of a
/// stream, and 64 KiB without a line end, are handed on as they are. One thread may read.
[[nodiscard]] std::unique_ptr<ByteStream> buffered(std::unique_ptr<ByteStream> stream, std::size_t capacity,
                                                   WhenFull when_full);

}  // namespace ebbtide::transport
