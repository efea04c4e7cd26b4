#pragma once
// TCP: a client, and a listener on this computer's own loopback.

#include <cstdint>
#include <memory>
#include <string>

#include "transport/descriptor.hpp"

namespace ebbtide::transport {

/// Connects to a host by name or number, in any family that it has, without Nagle's delay. Errors: an unknown
/// host; nobody listens there; no answer in time.
[[nodiscard]] Result<std::unique_ptr<Link>> connect_tcp(const std::string& host, std::uint16_t port,
                                                        double timeout_s);

/// Waits for others to connect to 127.0.0.1; no other computer can.
class TcpListener {
  public:
    /// Port 0: any free one. Errors: the port is taken, or not allowed.
    [[nodiscard]] static Result<TcpListener> on_loopback(std::uint16_t port);
    [[nodiscard]] std::uint16_t port() const { return port_; }
    /// Errors: nobody has connected in time; the socket is lost.
    [[nodiscard]] Result<std::unique_ptr<Link>> accept(double timeout_s);

  private:
    TcpListener(Descriptor descriptor, std::uint16_t port)
        : descriptor_(std::move(descriptor)), port_(port) {}
    Descriptor descriptor_;
    std::uint16_t port_;
};

}  // namespace ebbtide::transport
