#pragma once
// What the connections of one server share. Only the files of the wire include it: http.cpp listens,
// connection.cpp hears requests, viewer.cpp tells what happens live.

#include <boost/asio/io_context.hpp>
#include <boost/asio/ip/tcp.hpp>
#include <boost/asio/thread_pool.hpp>
#include <chrono>
#include <cstdint>
#include <functional>
#include <optional>
#include <set>

#include "server/guard.hpp"
#include "server/http.hpp"

namespace ebbtide::server {

/// Somebody at the other end. Lives as long as something is awaited of it, on the network's thread.
class Connected {
  public:
    using Clock = std::chrono::steady_clock;

    virtual ~Connected() = default;
    virtual void close() = 0;
    /// The server stops: who waits goes, who is being answered is.
    virtual void leave() { close(); }
    /// The live feed has news.
    virtual void wake() {}
    /// Since when nothing has been asked.
    [[nodiscard]] virtual std::optional<Clock::time_point> idle_since() const { return {}; }

  protected:
    Connected() = default;
    Connected(const Connected&) = delete;
    Connected& operator=(const Connected&) = delete;
};

struct Wire {
    using Those = std::set<Connected*>;

    /// Throws boost::system::system_error where the port is taken.
    Wire(const boost::asio::ip::tcp::endpoint& at, ReplyTo reply, LiveFeed& live, HttpLimits bounds)
        : reply_to(std::move(reply)),
          feed(live),
          limits(bounds),
          acceptor(network, at),
          guard(new_token(), acceptor.local_endpoint().port()),
          pool(bounds.handlers) {}

    const ReplyTo reply_to;
    LiveFeed& feed;
    const HttpLimits limits;

    // Of the network's thread.
    Those clients, viewers, refused;
    std::size_t imports = 0, queued = 0;
    bool stopping = false;
    std::function<void()> on_left;  ///< called after each that has gone

    // Behind what the handlers that it destroys refer to.
    boost::asio::io_context network{1};
    boost::asio::ip::tcp::acceptor acceptor;
    const Guard guard;
    boost::asio::thread_pool pool;
};

/// A place among those who are connected, held as long as one is.
class Place {
  public:
    Place(Wire& wire, Wire::Those& among, Connected& who) : wire_(wire), among_(among), who_(who) {
        among_.insert(&who_);
    }
    ~Place() {
        among_.erase(&who_);
        if (wire_.on_left) wire_.on_left();
    }
    Place(const Place&) = delete;
    Place& operator=(const Place&) = delete;

  private:
    Wire& wire_;
    Wire::Those& among_;
    Connected& who_;
};

/// Answers request after request until either side ends it (connection.cpp).
void hear(Wire& wire, boost::asio::ip::tcp::socket socket);
/// Says that there is no room (connection.cpp).
void turn_away(Wire& wire, boost::asio::ip::tcp::socket socket);
/// Sends the head of a stream of server-sent events and what follows number `after`, until the other side
/// goes (viewer.cpp).
void tell_live(Wire& wire, boost::asio::ip::tcp::socket socket, std::uint64_t after);

}  // namespace ebbtide::server
