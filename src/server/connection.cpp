// One client: its requests, one after the other, and what is answered. The one file that includes
// Boost.Beast, which takes its time to compile.

#include <fmt/format.h>

#include <array>
#include <boost/asio/post.hpp>
#include <boost/asio/write.hpp>
#include <boost/beast/core/flat_buffer.hpp>
#include <boost/beast/core/tcp_stream.hpp>
#include <boost/beast/http/parser.hpp>
#include <boost/beast/http/read.hpp>
#include <boost/beast/http/string_body.hpp>
#include <charconv>
#include <memory>

#include "server/reply_head.hpp"
#include "server/target.hpp"
#include "server/wire.hpp"

namespace ebbtide::server {
namespace {

namespace asio = boost::asio;
namespace beast = boost::beast;
namespace http = boost::beast::http;
using asio::ip::tcp;
using boost::system::error_code;

constexpr std::string_view live_path = "/api/live";

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

class Connection : public Connected, public std::enable_shared_from_this<Connection> {
  public:
    Connection(Wire& wire, Wire::Those& among, tcp::socket socket)
        : wire_(wire),
          place_(wire, among, *this),
          stream_(std::move(socket)),
          // A head, or as much of a body as is read at a time.
          buffer_(wire_.limits.head_bytes + (16u << 10)) {
        error_code ignored;
        stream_.socket().set_option(tcp::no_delay(true), ignored);
    }
    ~Connection() override {
        if (importing_) --wire_.imports;
    }

    void wait_for_request() {
        answering_ = false;
        parser_.emplace();
        parser_->header_limit(wire_.limits.head_bytes);
        parser_->body_limit(wire_.limits.import_bytes);
        request_ = {};
        // Requests that were sent ahead lie in the buffer already.
        if (buffer_.size() > 0) return read_head();
        if (wire_.stopping) return close();
        idle_since_ = Clock::now();
        stream_.expires_after(wire_.limits.idle);
        stream_.async_read_some(buffer_.prepare(4096),
                                [self = shared_from_this()](error_code error, std::size_t bytes) {
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

    [[nodiscard]] std::optional<Clock::time_point> idle_since() const override { return idle_since_; }
    void close() override {
        idle_since_.reset();
        error_code ignored;
        stream_.socket().shutdown(tcp::socket::shutdown_both, ignored);
        stream_.close();
    }
    void leave() override {
        if (!answering_) close();
    }

  private:
    void read_head() {
        stream_.expires_after(wire_.limits.head);
        http::async_read_header(stream_, buffer_, *parser_,
                                [self = shared_from_this()](error_code error, std::size_t) {
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
        return request_.path == import_path ? wire_.limits.import_bytes : wire_.limits.body_bytes;
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
            entry ? wire_.guard.refuses_entry(head, token->second) : wire_.guard.refuses(head);
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
                            {{"Location", "/"}, {"Set-Cookie", wire_.guard.cookie()}}},
                           message.keep_alive(), head_only);
        if (request_.method == "GET" && request_.path == live_path)
            return view(the_header(message, beast::string_view("Last-Event-ID")));
        if (reads) {
            request_.method = "GET";
            return work(head_only);
        }
        if (request_.path == import_path) {
            if (wire_.imports >= wire_.limits.imports) return refuse("other recordings are being imported");
            ++wire_.imports;
            importing_ = true;
        }
        parser_->body_limit(body_limit());
        if (message[http::field::expect] == "100-continue") return invite_body();
        read_body();
    }

    /// A sender of much waits to be asked for it.
    void invite_body() {
        out_ = "HTTP/1.1 100 Continue\r\n\r\n";
        stream_.expires_after(wire_.limits.write);
        asio::async_write(stream_, asio::buffer(out_),
                          [self = shared_from_this()](error_code error, std::size_t) {
                              if (error) return self->close();
                              self->read_body();
                          });
    }

    void read_body() {
        stream_.expires_after(wire_.limits.body);
        http::async_read(stream_, buffer_, *parser_,
                         [self = shared_from_this()](error_code error, std::size_t) {
                             if (error) return self->misread(error);
                             self->request_.body = std::move(self->parser_->get().body());
                             self->work(false);
                         });
    }

    /// The handler's turn, on the pool; this connection rests meanwhile.
    void work(bool head_only) {
        if (wire_.stopping || wire_.queued >= wire_.limits.queue)
            return refuse("the server has more to do than it can");
        ++wire_.queued;
        answering_ = true;
        const bool keep_alive = parser_->get().keep_alive();
        stream_.expires_never();
        asio::post(wire_.pool, [self = shared_from_this(), keep_alive, head_only]() mutable {
            Reply reply;
            try {
                reply = self->wire_.reply_to(self->request_);
            } catch (const std::exception& thrown) {
                reply = words_reply(500,
                                    {Fault::internal, thrown.what(), self->request_.path,
                                     "This is our fault: please report it with these words"},
                                    self->request_.path);
            }
            Wire& wire = self->wire_;
            // Moved, not copied: the last owner of a connection is the network's thread.
            asio::post(wire.network,
                       [self = std::move(self), reply = std::move(reply), keep_alive, head_only]() mutable {
                           --self->wire_.queued;
                           if (self->importing_) --self->wire_.imports;
                           self->importing_ = false;
                           self->respond(std::move(reply), keep_alive, head_only);
                       });
        });
    }

    void respond(Reply reply, bool keep_alive, bool head_only = false) {
        keep_alive = keep_alive && !wire_.stopping;
        answering_ = true;
        out_ = reply_head(reply, keep_alive);
        fmt::format_to(std::back_inserter(out_), "Content-Length: {}\r\n\r\n", reply.body.size());
        body_ = head_only ? std::string() : std::move(reply.body);
        stream_.expires_after(wire_.limits.write);
        asio::async_write(stream_, std::array{asio::buffer(out_), asio::buffer(body_)},
                          [self = shared_from_this(), keep_alive](error_code error, std::size_t) {
                              self->out_.clear();
                              self->body_ = {};
                              if (error) return self->close();
                              keep_alive ? self->wait_for_request() : self->linger();
                          });
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
                                [self = shared_from_this(), most](error_code error, std::size_t bytes) {
                                    if (error || bytes >= most) return self->close();
                                    self->discard(most - bytes);
                                });
    }

    /// Who watches asks for nothing more: the socket goes on without this connection.
    void view(std::optional<std::string_view> last_event_id) {
        std::optional<std::uint64_t> after = wire_.feed.last();
        const auto asked = request_.query.find("after");
        if (last_event_id)
            after = number_in(*last_event_id);
        else if (asked != request_.query.end())
            after = number_in(asked->second);
        if (!after)
            return respond(error_reply(400, plain_error("Last-Event-ID, or after, is no number")), false);
        if (wire_.viewers.size() >= wire_.limits.viewers || wire_.stopping)
            return refuse("as many viewers watch as find room");
        tell_live(wire_, stream_.release_socket(), *after);
    }

    Wire& wire_;
    Place place_;
    beast::tcp_stream stream_;
    beast::flat_buffer buffer_;
    std::optional<http::request_parser<http::string_body>> parser_;
    Request request_;
    std::string out_, body_;
    bool importing_ = false, answering_ = false;
    std::optional<Clock::time_point> idle_since_;
};

}  // namespace

void hear(Wire& wire, tcp::socket socket) {
    std::make_shared<Connection>(wire, wire.clients, std::move(socket))->wait_for_request();
}

void turn_away(Wire& wire, tcp::socket socket) {
    std::make_shared<Connection>(wire, wire.refused, std::move(socket))
        ->refuse("as many clients are served as find room");
}

}  // namespace ebbtide::server
