// The one file that includes Boost.Beast: it takes some twenty seconds to compile.
#include "server/http.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <atomic>
#include <boost/asio/executor_work_guard.hpp>
#include <boost/asio/ip/tcp.hpp>
#include <boost/asio/post.hpp>
#include <boost/asio/steady_timer.hpp>
#include <boost/asio/thread_pool.hpp>
#include <boost/asio/write.hpp>
#include <boost/beast/core/flat_buffer.hpp>
#include <boost/beast/core/tcp_stream.hpp>
#include <boost/beast/http/parser.hpp>
#include <boost/beast/http/read.hpp>
#include <boost/beast/http/status.hpp>
#include <boost/beast/http/string_body.hpp>
#include <charconv>
#include <condition_variable>
#include <mutex>
#include <optional>
#include <set>
#include <thread>

#include "server/guard.hpp"
#include "server/target.hpp"

namespace ebbtide::server {
namespace {

namespace asio = boost::asio;
namespace beast = boost::beast;
namespace http = boost::beast::http;
using asio::ip::tcp;
using boost::system::error_code;
using Clock = std::chrono::steady_clock;

constexpr std::string_view live_path = "/api/live";

// Frames of the page itself (a preview of a report) may come from here; whoever frames this page may not.
constexpr std::pair<std::string_view, std::string_view> standing_headers[] = {
    {"Content-Security-Policy",
     "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data: blob:; "
     "connect-src 'self'; frame-src 'self'; form-action 'none'; base-uri 'none'; frame-ancestors 'self'"},
    {"X-Content-Type-Options", "nosniff"},
    {"Referrer-Policy", "no-referrer"},
    {"Cache-Control", "no-store"},
    {"X-Frame-Options", "SAMEORIGIN"},
    {"Cross-Origin-Opener-Policy", "same-origin"},
    {"Cross-Origin-Resource-Policy", "same-origin"},
};

std::string_view text_of(beast::string_view text) {
    return {text.data(), text.size()};
}

/// A header that came once; more than once is no value that anybody accepts.
template <class Name>
std::optional<std::string_view> the_header(const http::fields& fields, Name name) {
    const auto range = fields.equal_range(name);
    if (range.first == range.second) return {};
    if (std::next(range.first) != range.second) return Head::twice;
    return text_of(range.first->value());
}

bool printable(std::string_view text) {
    return std::ranges::all_of(text,
                               [](char c) { return static_cast<unsigned char>(c) >= 0x20 && c != 0x7F; });
}

Reply words_reply(int status, const Error& error, std::string_view path) {
    if (path.starts_with("/api/")) return error_reply(status, error);
    return {status, "text/plain; charset=utf-8", error.text() + "\n", {}};
}

Error plain_error(std::string what, std::string remedy = "") {
    return {Fault::bad_input, std::move(what), "", std::move(remedy)};
}

std::optional<std::uint64_t> number_in(std::string_view text) {
    std::uint64_t value = 0;
    const auto [end, wrong] = std::from_chars(text.data(), text.data() + text.size(), value);
    if (text.empty() || wrong != std::errc{} || end != text.data() + text.size()) return {};
    return value;
}

}  // namespace

class HttpServer::Wire {
  public:
    class Connection;

    Wire(const tcp::endpoint& endpoint, ReplyTo reply_to, LiveFeed& feed, HttpLimits limits)
        : reply_to_(std::move(reply_to)),
          feed_(feed),
          limits_(limits),
          acceptor_(network_, endpoint),
          retry_(network_),
          endpoint_(acceptor_.local_endpoint()),
          guard_(new_token(), endpoint_.port()),
          pool_(limits.handlers) {}

    void start() {
        feed_.on_news([this] {
            // One message at a time is enough: whoever wakes reads all that is new.
            if (!woken_.exchange(true)) asio::post(network_, [this] { wake_viewers(); });
        });
        accept();
        thread_ = std::thread([this] { serve(); });
    }

    void stop() {
        if (!thread_.joinable()) return;
        feed_.on_news({});
        asio::post(network_, [this] { stop_listening(); });
        pool_.join();
        {
            std::unique_lock lock(ended_mutex_);
            ended_.wait_for(lock, std::chrono::seconds(2), [this] { return ended_all_; });
        }
        network_.stop();
        thread_.join();
    }

    [[nodiscard]] const tcp::endpoint& endpoint() const { return endpoint_; }
    [[nodiscard]] const Guard& guard() const { return guard_; }

  private:
    void serve() {
        for (;;) {
            try {
                network_.run();
                return;
            } catch (const std::exception&) {
                // Memory ran out for one connection, which is gone with it. The others are served on.
            }
        }
    }
    void accept();
    void take(tcp::socket socket);
    void stop_listening();
    void wake_viewers();
    bool evict_an_idle_one();
    void tell_if_ended() {
        if (!stopping_ || !connections_.empty()) return;
        const std::lock_guard lock(ended_mutex_);
        ended_all_ = true;
        ended_.notify_all();
    }

    ReplyTo reply_to_;
    LiveFeed& feed_;
    const HttpLimits limits_;

    // Of the network thread.
    std::set<Connection*> connections_;
    std::size_t clients_ = 0, viewers_ = 0, refused_ = 0, imports_ = 0, queued_ = 0;
    bool stopping_ = false;

    std::atomic<bool> woken_ = false;
    std::mutex ended_mutex_;
    std::condition_variable ended_;
    bool ended_all_ = false;

    // Behind what the handlers it destroys refer to.
    asio::io_context network_{1};
    asio::executor_work_guard<asio::io_context::executor_type> stays_{network_.get_executor()};
    tcp::acceptor acceptor_;
    asio::steady_timer retry_;
    const tcp::endpoint endpoint_;
    const Guard guard_;
    asio::thread_pool pool_;
    std::thread thread_;
};

/// One connection: requests one after the other, or a viewer until it goes.
class HttpServer::Wire::Connection : public std::enable_shared_from_this<Connection> {
  public:
    enum class Counted { client, viewer, refused };

    Connection(Wire& wire, tcp::socket socket, Counted counted)
        : wire_(wire),
          stream_(std::move(socket)),
          timer_(wire.network_),
          // A head, or as much of a body as is read at a time.
          buffer_(wire.limits_.head_bytes + (16u << 10)),
          counted_(counted) {
        wire_.connections_.insert(this);
        ++count();
        error_code ignored;
        stream_.socket().set_option(tcp::no_delay(true), ignored);
    }
    ~Connection() {
        --count();
        if (importing_) --wire_.imports_;
        wire_.connections_.erase(this);
        wire_.tell_if_ended();
    }
    Connection(const Connection&) = delete;
    Connection& operator=(const Connection&) = delete;

    void wait_for_request() {
        answering_ = false;
        parser_.emplace();
        parser_->header_limit(wire_.limits_.head_bytes);
        parser_->body_limit(wire_.limits_.import_bytes);
        request_ = {};
        // Requests that were sent ahead lie in the buffer already.
        if (buffer_.size() > 0) return read_head();
        if (wire_.stopping_) return close();
        idle_since_ = Clock::now();
        stream_.expires_after(wire_.limits_.idle);
        stream_.async_read_some(buffer_.prepare(4096),
                                [self = this->shared_from_this()](error_code error, std::size_t bytes) {
                                    self->idle_since_.reset();
                                    if (error) return self->close();
                                    self->buffer_.commit(bytes);
                                    self->read_head();
                                });
    }

    /// To whom there is no room for.
    void refuse(std::string what) {
        respond(words_reply(503, plain_error(std::move(what), "Try again in a moment"), request_.path),
                false);
    }

    [[nodiscard]] std::optional<Clock::time_point> idle_since() const { return idle_since_; }
    void close() {
        idle_since_.reset();
        error_code ignored;
        stream_.socket().shutdown(tcp::socket::shutdown_both, ignored);
        stream_.close();
        timer_.cancel();
    }
    /// The server stops: whoever waits or watches goes, what is being answered is.
    void leave() {
        if (!answering_) close();
    }
    void wake() {
        if (waits_for_news_) timer_.cancel();
    }

  private:
    std::size_t& count() {
        return counted_ == Counted::client   ? wire_.clients_
               : counted_ == Counted::viewer ? wire_.viewers_
                                             : wire_.refused_;
    }

    void read_head() {
        stream_.expires_after(wire_.limits_.head);
        http::async_read_header(stream_, buffer_, *parser_,
                                [self = this->shared_from_this()](error_code error, std::size_t) {
                                    if (error) return self->misread(error);
                                    self->heard_head();
                                });
    }

    void misread(error_code error) {
        if (error == http::error::header_limit || error == http::error::buffer_overflow)
            return respond(words_reply(431, plain_error("the head of the request is too long"), ""), false);
        if (error == http::error::body_limit) return too_large();
        if (error == beast::error::timeout || error == asio::error::operation_aborted ||
            error == http::error::end_of_stream || error.category() == asio::error::get_system_category())
            return close();
        respond(words_reply(400, plain_error("this is no request of HTTP/1.1"), ""), false);
    }

    void too_large() {
        respond(words_reply(413,
                            plain_error(fmt::format("the body is longer than {} MiB", body_limit() >> 20),
                                        "A recording that is longer is measured where it lies"),
                            request_.path),
                false);
    }

    [[nodiscard]] std::uint64_t body_limit() const {
        return request_.path == import_path ? wire_.limits_.import_bytes : wire_.limits_.body_bytes;
    }

    void heard_head() {
        const auto& message = parser_->get();
        const auto target = parse_target(text_of(message.target()));
        if (!target)
            return respond(words_reply(400, plain_error("the address in the request is none of ours"), ""),
                           false);
        request_.path = target->path;
        request_.query = target->query;
        request_.method = text_of(message.method_string());
        const bool head_only = request_.method == "HEAD";
        const bool reads = head_only || request_.method == "GET";

        Head head;
        head.method = request_.method;
        head.path = request_.path;
        head.host = the_header(message, http::field::host);
        head.origin = the_header(message, http::field::origin);
        head.cookie = the_header(message, http::field::cookie);
        head.authorization = the_header(message, http::field::authorization);
        head.content_type = the_header(message, http::field::content_type);
        request_.content_type = media_type(head.content_type.value_or(""));
        const auto token = request_.query.find("token");
        const bool entry = request_.path == "/" && token != request_.query.end();
        const auto refusal =
            entry ? wire_.guard_.refuses_entry(head, token->second) : wire_.guard_.refuses(head);
        // Nothing more is read of who is not heard.
        if (refusal) return respond(words_reply(refusal->status, refusal->error, request_.path), false);

        const auto length = parser_->content_length();
        if (reads && (parser_->chunked() || length.value_or(0) > 0))
            return respond(words_reply(400, plain_error("a request that reads has no body"), request_.path),
                           false);
        if (length.value_or(0) > body_limit()) return too_large();
        if (entry)
            return respond({303,
                            "text/plain; charset=utf-8",
                            "",
                            {{"Location", "/"}, {"Set-Cookie", wire_.guard_.cookie()}}},
                           message.keep_alive(), head_only);
        if (request_.method == "GET" && request_.path == live_path)
            return view(the_header(message, beast::string_view("Last-Event-ID")));
        if (reads) {
            request_.method = "GET";
            return work(head_only);
        }
        if (request_.path == import_path) {
            if (wire_.imports_ >= wire_.limits_.imports) return refuse("other recordings are being imported");
            ++wire_.imports_;
            importing_ = true;
        }
        parser_->body_limit(body_limit());
        if (message[http::field::expect] == "100-continue") return invite_body();
        read_body();
    }

    /// A sender of much waits to be asked for it.
    void invite_body() {
        out_ = "HTTP/1.1 100 Continue\r\n\r\n";
        stream_.expires_after(wire_.limits_.write);
        asio::async_write(stream_, asio::buffer(out_),
                          [self = this->shared_from_this()](error_code error, std::size_t) {
                              if (error) return self->close();
                              self->read_body();
                          });
    }

    void read_body() {
        stream_.expires_after(wire_.limits_.body);
        http::async_read(stream_, buffer_, *parser_,
                         [self = this->shared_from_this()](error_code error, std::size_t) {
                             if (error) return self->misread(error);
                             self->request_.body = std::move(self->parser_->get().body());
                             self->work(false);
                         });
    }

    /// The handler's turn, on the pool; this connection rests meanwhile.
    void work(bool head_only) {
        if (wire_.stopping_ || wire_.queued_ >= wire_.limits_.queue)
            return refuse("the server has more to do than it can");
        ++wire_.queued_;
        answering_ = true;
        const bool keep_alive = parser_->get().keep_alive();
        stream_.expires_never();
        asio::post(wire_.pool_, [self = this->shared_from_this(), keep_alive, head_only]() mutable {
            Reply reply;
            try {
                reply = self->wire_.reply_to_(self->request_);
            } catch (const std::exception& thrown) {
                reply = words_reply(500,
                                    {Fault::internal, thrown.what(), self->request_.path,
                                     "This is our fault: please report it with these words"},
                                    self->request_.path);
            }
            Wire& wire = self->wire_;
            // Moved, not copied: the last owner of a connection is the network's thread.
            asio::post(wire.network_,
                       [self = std::move(self), reply = std::move(reply), keep_alive, head_only]() mutable {
                           --self->wire_.queued_;
                           if (self->importing_) --self->wire_.imports_;
                           self->importing_ = false;
                           self->respond(std::move(reply), keep_alive, head_only);
                       });
        });
    }

    void respond(Reply reply, bool keep_alive, bool head_only = false) {
        keep_alive = keep_alive && !wire_.stopping_;
        answering_ = true;
        out_ = head_of(reply, keep_alive);
        fmt::format_to(std::back_inserter(out_), "Content-Length: {}\r\n\r\n", reply.body.size());
        body_ = head_only ? std::string() : std::move(reply.body);
        stream_.expires_after(wire_.limits_.write);
        asio::async_write(stream_, std::array{asio::buffer(out_), asio::buffer(body_)},
                          [self = this->shared_from_this(), keep_alive](error_code error, std::size_t) {
                              self->out_.clear();
                              self->body_ = {};
                              if (error) return self->close();
                              keep_alive ? self->wait_for_request() : self->linger();
                          });
    }

    static std::string head_of(const Reply& reply, bool keep_alive) {
        const beast::string_view reason =
            http::obsolete_reason(http::int_to_status(static_cast<unsigned>(reply.status)));
        std::string out = fmt::format("HTTP/1.1 {} {}\r\n", reply.status, text_of(reason));
        const auto add = [&out](std::string_view name, std::string_view value) {
            // A line break in a value (the name of a file) would begin a header of somebody else's.
            if (printable(name) && printable(value))
                fmt::format_to(std::back_inserter(out), "{}: {}\r\n", name, value);
        };
        add("Content-Type", reply.type);
        for (const auto& [name, value] : standing_headers) {
            const auto same = [&standing = name](const auto& header) {
                return std::ranges::equal(header.first, standing,
                                          [](char a, char b) { return (a | 0x20) == (b | 0x20); });
            };
            if (std::ranges::none_of(reply.headers, same)) add(name, value);
        }
        for (const auto& [name, value] : reply.headers) add(name, value);
        if (reply.status == 503) add("Retry-After", "1");
        add("Connection", keep_alive ? "keep-alive" : "close");
        return out;
    }

    /// Closing while something is unread would take the reply away from who sends it.
    void linger() {
        error_code ignored;
        stream_.socket().shutdown(tcp::socket::shutdown_send, ignored);
        stream_.expires_after(std::chrono::seconds(2));
        buffer_.clear();
        discard(1 << 20);
    }
    void discard(std::size_t most) {
        stream_.async_read_some(buffer_.prepare(8192),
                                [self = this->shared_from_this(), most](error_code error, std::size_t bytes) {
                                    if (error || bytes >= most) return self->close();
                                    self->discard(most - bytes);
                                });
    }

    // --- viewers

    void view(std::optional<std::string_view> last_event_id) {
        std::optional<std::uint64_t> after = wire_.feed_.last();
        const auto asked = request_.query.find("after");
        if (last_event_id)
            after = number_in(*last_event_id);
        else if (asked != request_.query.end())
            after = number_in(asked->second);
        if (!after)
            return respond(error_reply(400, plain_error("Last-Event-ID, or after, is no number")), false);
        if (wire_.viewers_ >= wire_.limits_.viewers || wire_.stopping_)
            return refuse("as many viewers watch as find room");
        --count();
        counted_ = Counted::viewer;
        ++count();
        cursor_ = *after;
        error_code ignored;
        // A viewer that does not keep up shall be noticed, not fed from a long queue in the system.
        stream_.socket().set_option(asio::socket_base::send_buffer_size(64 << 10), ignored);
        parser_.reset();
        stream_.expires_never();
        watch();
        out_ = head_of({200, "text/event-stream", "", {}}, false) + "\r\nretry: 1000\n\n";
        write_batch();
    }

    /// A viewer says nothing more; when it goes, its place is free at once.
    void watch() {
        buffer_.clear();
        stream_.async_read_some(buffer_.prepare(256), [self = this->shared_from_this()](
                                                          error_code, std::size_t) { self->close(); });
    }

    void write_batch() {
        batch_began_ = Clock::now();
        written_ = 0;
        write_on();
    }

    /// Each piece has the whole time: who reads slowly stays, who reads nothing goes.
    void write_on() {
        stream_.expires_after(wire_.limits_.write);
        stream_.async_write_some(asio::buffer(out_) + written_,
                                 [self = this->shared_from_this()](error_code error, std::size_t bytes) {
                                     if (error) return self->close();
                                     self->written_ += bytes;
                                     self->written_ < self->out_.size() ? self->write_on() : self->wrote();
                                 });
    }

    void wrote() {
        const auto now = Clock::now();
        const auto took = now - batch_began_;
        if (took > std::chrono::milliseconds(200))
            frames_ = std::max<std::size_t>(frames_ / 2, least_frames);
        else if (took < std::chrono::milliseconds(50))
            frames_ = std::min<std::size_t>(frames_ * 2, most_frames);
        wrote_at_ = now;
        timer_.expires_at(batch_began_ + wire_.limits_.pace);
        timer_.async_wait([self = this->shared_from_this()](error_code) { self->go_on(); });
    }

    void go_on() {
        if (!stream_.socket().is_open()) return;
        FeedBatch batch = wire_.feed_.after(cursor_, frames_, batch_bytes);
        cursor_ = batch.last;
        out_ = std::move(batch.text);
        if (!out_.empty()) return write_batch();
        waits_for_news_ = true;
        timer_.expires_at(wrote_at_ + wire_.limits_.beat);
        timer_.async_wait([self = this->shared_from_this()](error_code cancelled) {
            self->waits_for_news_ = false;
            if (cancelled || !self->stream_.socket().is_open()) return self->go_on();
            self->out_ = ": still here\n\n";
            self->write_batch();
        });
    }

    static constexpr std::size_t most_frames = 512, least_frames = 4;
    static constexpr std::size_t batch_bytes = 64 << 10;

    Wire& wire_;
    beast::tcp_stream stream_;
    asio::steady_timer timer_;
    beast::flat_buffer buffer_;
    std::optional<http::request_parser<http::string_body>> parser_;
    Request request_;
    std::string out_, body_;
    Counted counted_;
    bool importing_ = false, answering_ = false;
    std::optional<Clock::time_point> idle_since_;

    std::uint64_t cursor_ = 0;
    std::size_t frames_ = most_frames, written_ = 0;  ///< frames of a batch; bytes of it
    Clock::time_point batch_began_, wrote_at_;
    bool waits_for_news_ = false;
};

void HttpServer::Wire::accept() {
    acceptor_.async_accept([this](error_code error, tcp::socket socket) {
        if (stopping_) return;
        if (!error) {
            take(std::move(socket));
            return accept();
        }
        // As many files are open as may be.
        retry_.expires_after(std::chrono::milliseconds(100));
        retry_.async_wait([this](error_code cancelled) {
            if (!cancelled && !stopping_) accept();
        });
    });
}

void HttpServer::Wire::take(tcp::socket socket) {
    constexpr std::size_t refused_at_once = 32;
    if (clients_ < limits_.clients || evict_an_idle_one())
        std::make_shared<Connection>(*this, std::move(socket), Connection::Counted::client)
            ->wait_for_request();
    else if (refused_ < refused_at_once)
        std::make_shared<Connection>(*this, std::move(socket), Connection::Counted::refused)
            ->refuse("as many clients are served as find room");
}

/// Who holds a connection and asks for nothing keeps nobody out.
bool HttpServer::Wire::evict_an_idle_one() {
    Connection* longest = nullptr;
    for (Connection* one : connections_)
        if (one->idle_since() && (!longest || *one->idle_since() < *longest->idle_since())) longest = one;
    if (longest) longest->close();
    return longest != nullptr;
}

void HttpServer::Wire::wake_viewers() {
    woken_ = false;
    for (Connection* one : connections_) one->wake();
}

void HttpServer::Wire::stop_listening() {
    stopping_ = true;
    error_code ignored;
    acceptor_.close(ignored);
    retry_.cancel();
    for (Connection* one : connections_) one->leave();
    tell_if_ended();
}

HttpServer::HttpServer(std::unique_ptr<Wire> wire) : wire_(std::move(wire)) {}
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
        auto wire = std::make_unique<Wire>(tcp::endpoint(parsed, port), std::move(reply_to), feed, limits);
        wire->start();
        return std::unique_ptr<HttpServer>(new HttpServer(std::move(wire)));
    } catch (const boost::system::system_error& refused) {
        return Error{Fault::bad_input, fmt::format("cannot listen: {}", refused.code().message()),
                     fmt::format("{}:{}", address, port), "Leave out --port: then one that is free is taken"};
    }
}

std::uint16_t HttpServer::port() const {
    return wire_->endpoint().port();
}
const std::string& HttpServer::token() const {
    return wire_->guard().token();
}
std::string HttpServer::entry() const {
    const bool six = wire_->endpoint().address().is_v6();
    return fmt::format("http://{}:{}/?token={}", six ? "[::1]" : "127.0.0.1", port(), token());
}
void HttpServer::stop() {
    wire_->stop();
}

}  // namespace ebbtide::server
