// One viewer of the live stream: a place in the feed and a socket, no thread.

#include <algorithm>
#include <boost/asio/buffer.hpp>
#include <boost/asio/steady_timer.hpp>
#include <memory>
#include <string>

#include "server/reply_head.hpp"
#include "server/wire.hpp"

namespace ebbtide::server {
namespace {

namespace asio = boost::asio;
using asio::ip::tcp;
using boost::system::error_code;

class Viewer : public Connected, public std::enable_shared_from_this<Viewer> {
  public:
    Viewer(Wire& wire, tcp::socket socket, std::uint64_t after)
        : wire_(wire),
          place_(wire, wire.viewers, *this),
          socket_(std::move(socket)),
          timer_(wire.network),
          cursor_(after) {
        error_code ignored;
        // Who does not keep up shall be noticed, not fed from a long queue in the system.
        socket_.set_option(asio::socket_base::send_buffer_size(64 << 10), ignored);
    }

    void begin() {
        watch();
        out_ = reply_head({200, "text/event-stream", "", {}}, false) + "\r\nretry: 1000\n\n";
        write_batch();
    }

    void close() override {
        error_code ignored;
        socket_.shutdown(tcp::socket::shutdown_both, ignored);
        socket_.close(ignored);
        timer_.cancel();
    }
    void wake() override {
        if (waits_for_news_) timer_.cancel();
    }

  private:
    /// It says nothing more; when it goes, its place is free at once.
    void watch() {
        socket_.async_read_some(asio::buffer(said_),
                                [self = shared_from_this()](error_code, std::size_t) { self->close(); });
    }

    void write_batch() {
        batch_began_ = Clock::now();
        written_ = 0;
        write_on();
    }

    /// Each piece has the whole time: who reads slowly stays, who reads nothing goes.
    void write_on() {
        timer_.expires_after(wire_.limits.write);
        timer_.async_wait([self = shared_from_this()](error_code cancelled) {
            if (!cancelled) self->close();
        });
        socket_.async_write_some(asio::buffer(out_) + written_,
                                 [self = shared_from_this()](error_code error, std::size_t bytes) {
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
        timer_.expires_at(batch_began_ + wire_.limits.pace);
        timer_.async_wait([self = shared_from_this()](error_code) { self->go_on(); });
    }

    void go_on() {
        if (!socket_.is_open()) return;
        FeedBatch batch = wire_.feed.after(cursor_, frames_, batch_bytes);
        cursor_ = batch.last;
        out_ = std::move(batch.text);
        if (!out_.empty()) return write_batch();
        waits_for_news_ = true;
        timer_.expires_at(wrote_at_ + wire_.limits.beat);
        timer_.async_wait([self = shared_from_this()](error_code cancelled) {
            self->waits_for_news_ = false;
            if (cancelled || !self->socket_.is_open()) return self->go_on();
            self->out_ = ": still here\n\n";
            self->write_batch();
        });
    }

    static constexpr std::size_t most_frames = 512, least_frames = 4;  // of a batch
    static constexpr std::size_t batch_bytes = 64 << 10;

    Wire& wire_;
    Place place_;
    tcp::socket socket_;
    asio::steady_timer timer_;  ///< of the piece that is written, the pause behind a batch, or the silence
    char said_[256];
    std::string out_;
    std::uint64_t cursor_;
    std::size_t frames_ = most_frames, written_ = 0;
    Clock::time_point batch_began_, wrote_at_;
    bool waits_for_news_ = false;
};

}  // namespace

void tell_live(Wire& wire, tcp::socket socket, std::uint64_t after) {
    std::make_shared<Viewer>(wire, std::move(socket), after)->begin();
}

}  // namespace ebbtide::server
