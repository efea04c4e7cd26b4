#pragma once
// A serial line: eight data bits, no parity, one stop bit, nothing translated. Pseudo-terminals work too.

#include <memory>
#include <string>

#include "transport/byte_stream.hpp"

namespace ebbtide::transport {

/// Errors: no such device; not a terminal; a speed that the system does not know (it lists those it does);
/// another program holds it.
[[nodiscard]] Result<std::unique_ptr<Link>> open_serial(const std::string& device, int baud);

/// What such a line carries at most: ten bits a byte.
[[nodiscard]] constexpr double bytes_a_second(int baud) {
    return baud / 10.0;
}

}  // namespace ebbtide::transport
