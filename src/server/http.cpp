// Listens, makes room, keeps the threads. Who is connected is heard in connection.cpp and viewer.cpp.
#include "server/http.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <atomic>
#include <boost/asio/executor_work_guard.hpp>
#include <boost/asio/post.hpp>
#include <boost/asio/steady_timer.hpp>
#include <future>
#include <thread>

#include "server/wire.hpp"

namespace ebbtide::server {

namespace asio = boost::asio;
using asio::ip::tcp;
using boost::system::error_code;

class HttpServer::Listener {
  public:
    Listener(const tcp::endpoint& at, ReplyTo reply_to, LiveFeed& feed, HttpLimits limits)
        : wire_(at, std::move(reply_to), feed, limits), endpoint_(wire_.acceptor.local_endpoint()) {
        wire_.on_left = [this] { tell_if_ended(); };
    }

    void start() {
        wire_.feed.on_news([this] {
            // One message at a time is enough: whoever wakes reads all that is new.
            if (!woken_.exchange(true)) asio::post(wire_.network, [this] { wake_viewers(); });
        });
        accept();
        thread_ = std::thread([this] { serve(); });
    }

    void stop() {
        if (!thread_.joinable()) return;
        wire_.feed.on_news({});
        auto ended = ended_.get_future();
        asio::post(wire_.network, [this] { stop_listening(); });
        wire_.pool.join();
        ended.wait_for(std::chrono::seconds(2));
        wire_.network.stop();
        thread_.join();
    }

    [[nodiscard]] const tcp::endpoint& endpoint() const { return endpoint_; }
    [[nodiscard]] const Guard& guard() const { return wire_.guard; }

  private:
    void serve() {
        for (;;) {
            try {
                wire_.network.run();
                return;
            } catch (const std::exception&) {
                // Memory ran out for one connection, which is gone with it. The others are served on.
            }
        }
    }

    void accept() {
        wire_.acceptor.async_accept([this](error_code error, tcp::socket socket) {
            if (wire_.stopping) return;
            if (!error) {
                take(std::move(socket));
                return accept();
            }
            // As many files are open as may be.
            retry_.expires_after(std::chrono::milliseconds(100));
            retry_.async_wait([this](error_code cancelled) {
                if (!cancelled && !wire_.stopping) accept();
            });
        });
    }

    void take(tcp::socket socket) {
        constexpr std::size_t refused_at_once = 32;
        if (wire_.clients.size() < wire_.limits.clients || evict_an_idle_one())
            hear(wire_, std::move(socket));
        else if (wire_.refused.size() < refused_at_once)
            turn_away(wire_, std::move(socket));
    }

    /// Who holds a connection and asks for nothing keeps nobody out.
    bool evict_an_idle_one() {
        Connected* longest = nullptr;
        for (Connected* one : wire_.clients)
            if (one->idle_since() && (!longest || *one->idle_since() < *longest->idle_since())) longest = one;
        if (longest) longest->close();
        return longest != nullptr;
    }

    void wake_viewers() {
        woken_ = false;
        for (Connected* one : wire_.viewers) one->wake();
    }

    void stop_listening() {
        wire_.stopping = true;
        error_code ignored;
        wire_.acceptor.close(ignored);
        retry_.cancel();
        for (Connected* one : wire_.clients) one->leave();
        for (Connected* one : wire_.viewers) one->leave();
        tell_if_ended();
    }

    void tell_if_ended() {
        if (!wire_.stopping || ended_told_ || !wire_.clients.empty() || !wire_.viewers.empty()) return;
        ended_told_ = true;
        ended_.set_value();
    }

    // Before the wire, whose end may still tell.
    std::promise<void> ended_;
    bool ended_told_ = false;
    std::atomic<bool> woken_ = false;
    Wire wire_;
    asio::executor_work_guard<asio::io_context::executor_type> stays_{wire_.network.get_executor()};
    asio::steady_timer retry_{wire_.network};
    const tcp::endpoint endpoint_;
    std::thread thread_;
};

HttpServer::HttpServer(std::unique_ptr<Listener> listener) : listener_(std::move(listener)) {}
HttpServer::~HttpServer() {
    stop();
}

Result<std::unique_ptr<HttpServer>> HttpServer::open(const std::string& address, std::uint16_t port,
                                                     ReplyTo reply_to, LiveFeed& feed, HttpLimits limits) {
    error_code error;
    const auto parsed = asio::ip::make_address(address, error);
    if (error || !parsed.is_loopback())
        return Error{Fault::bad_input,
                     fmt::format("'{}' is not an address of this computer alone (127.0.0.1 or ::1)", address),
                     "serve",
                     "Nobody signs in to this page yet: whoever reaches it could switch on a bench. From "
                     "another computer, forward the port by a program that asks who you are, such as ssh -L"};
    try {
        // A port that was just left by a server may be taken again: asio sets SO_REUSEADDR.
        auto listener =
            std::make_unique<Listener>(tcp::endpoint(parsed, port), std::move(reply_to), feed, limits);
        listener->start();
        return std::unique_ptr<HttpServer>(new HttpServer(std::move(listener)));
    } catch (const boost::system::system_error& refused) {
        return Error{Fault::bad_input, fmt::format("cannot listen: {}", refused.code().message()),
                     fmt::format("{}:{}", address, port), "Leave out --port: then one that is free is taken"};
    }
}

std::uint16_t HttpServer::port() const {
    return listener_->endpoint().port();
}
const std::string& HttpServer::token() const {
    return listener_->guard().token();
}
std::string HttpServer::entry() const {
    const bool six = listener_->endpoint().address().is_v6();
    return fmt::format("http://{}:{}/?token={}", six ? "[::1]" : "127.0.0.1", port(), token());
}
void HttpServer::stop() {
    listener_->stop();
}

}  // namespace ebbtide::server
