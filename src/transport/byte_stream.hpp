#pragma once
// Bytes that come in time, from whatever sends them: a socket, a serial line, a pipe, a file that grows.

#include <cstddef>
#include <cstdint>
#include <string>
#include <string_view>

#include "basis/result.hpp"

namespace ebbtide::transport {

/// What a read brought.
struct Arrival {
    enum class State {
        quiet,  ///< nothing came in time; more may come
        bytes,  ///< `count` of them
        ended   ///< the sender has closed in good order: nothing comes any more
    };
    State state = State::quiet;
    std::size_t count = 0;
    /// Bytes that came before these and were not kept, because nobody took them in time.
    std::uint64_t lost = 0;
};

/// One thread, unless said otherwise.
class ByteStream {
  public:
    virtual ~ByteStream() = default;
    /// Up to `room` (at least 1) bytes, as soon as there are any; waits `timeout_s` at most (0: not at all).
    /// Error `unreadable`: the link is lost. It names the place and what to do, and comes again when asked
    /// again.
    [[nodiscard]] virtual Result<Arrival> read(char* into, std::size_t room, double timeout_s) = 0;
    /// "tcp://127.0.0.1:5025", for people.
    [[nodiscard]] virtual const std::string& name() const = 0;
};

/// A stream that takes bytes too.
class Link : public ByteStream {
  public:
    /// All of the bytes, within `timeout_s`. They have left this process when it returns. Errors: the link is
    /// lost; it does not take them in time (how many it took is said).
    [[nodiscard]] virtual Result<Done> write(std::string_view bytes, double timeout_s) = 0;
};

}  // namespace ebbtide::transport
