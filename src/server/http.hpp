#pragma once
// The wire: HTTP/1.1 on a loopback port, bounded in everything that a sender can make large or slow. One
// thread for all connections; handlers run on a small pool beside it; viewers of the live feed take no
// thread.

#include <chrono>
#include <cstdint>
#include <functional>
#include <memory>
#include <string>

#include "basis/result.hpp"
#include "server/live_feed.hpp"
#include "server/request.hpp"

namespace ebbtide::server {

struct HttpLimits {
    using Time = std::chrono::milliseconds;
    std::uint32_t head_bytes = 8 << 10;
    std::uint64_t body_bytes = 1 << 20, import_bytes = 64 << 20;
    std::size_t clients = 64, viewers = 64;
    std::size_t imports = 2;  ///< bodies of that size that are read at once
    std::size_t handlers = 2, queue = 64;
    Time head{10'000};   ///< from its first byte to its last
    Time body{30'000};   ///< likewise
    Time idle{60'000};   ///< between two requests
    Time write{30'000};  ///< of a reply; of a viewer: in which it takes at least one byte
    Time beat{10'000};   ///< of silence, after which a viewer is sent a comment
    Time pace{30};       ///< between two batches of a viewer
};

/// Called from the pool. What it throws is answered with 500.
using ReplyTo = std::function<Reply(const Request&)>;

/// Every reply says: no store, no sniffing, no referrer, no framing by others, and a content-security policy
/// that loads only what this server sends. Requests that guard.hpp refuses reach no handler. `GET /api/live`
/// is answered from the feed: server-sent events behind the number in Last-Event-ID, or else in ?after=N, or
/// else from now on. What finds no room gets 503.
class HttpServer {
  public:
    /// Listens when it returns. `address`: "127.0.0.1" or "::1"; `port` 0: one that is free. The feed must
    /// outlive the server. Errors: another address (it would lie open to everybody on the network, and nobody
    /// signs in here yet); the port is taken.
    [[nodiscard]] static Result<std::unique_ptr<HttpServer>> open(const std::string& address,
                                                                  std::uint16_t port, ReplyTo reply_to,
                                                                  LiveFeed& feed, HttpLimits limits = {});
    /// stop()
    ~HttpServer();
    HttpServer(const HttpServer&) = delete;
    HttpServer& operator=(const HttpServer&) = delete;

    [[nodiscard]] std::uint16_t port() const;
    /// Made by this launch.
    [[nodiscard]] const std::string& token() const;
    /// "http://127.0.0.1:PORT/?token=HEX": what opens the page.
    [[nodiscard]] std::string entry() const;

    /// Accepts no more, ends viewers and idle connections, answers what is being worked on (two seconds at
    /// most once it is worked out).
    void stop();

  private:
    class Listener;
    explicit HttpServer(std::unique_ptr<Listener> listener);
    std::unique_ptr<Listener> listener_;
};

}  // namespace ebbtide::server
