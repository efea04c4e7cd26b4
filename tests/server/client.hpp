#pragma once
// A client of bare sockets: what it sends is what a test says, however wrong.

#include <arpa/inet.h>
#include <gtest/gtest.h>
#include <netinet/in.h>
#include <netinet/tcp.h>
#include <poll.h>
#include <sys/socket.h>
#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <chrono>
#include <cstdint>
#include <cstdlib>
#include <nlohmann/json.hpp>
#include <optional>
#include <set>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

namespace ebbtide::testing_support {

using Deadline = std::chrono::steady_clock::time_point;
inline Deadline within(double seconds) {
    return std::chrono::steady_clock::now() + std::chrono::duration_cast<std::chrono::steady_clock::duration>(
                                                  std::chrono::duration<double>(seconds));
}

/// One connection to a port of this computer.
class Socket {
  public:
    /// `receive_bytes`: of the system's buffer; 0: as it is.
    explicit Socket(std::uint16_t port, int receive_bytes = 0) : fd_(::socket(AF_INET, SOCK_STREAM, 0)) {
        if (receive_bytes > 0) ::setsockopt(fd_, SOL_SOCKET, SO_RCVBUF, &receive_bytes, sizeof receive_bytes);
        const int at_once = 1;
        ::setsockopt(fd_, IPPROTO_TCP, TCP_NODELAY, &at_once, sizeof at_once);
        sockaddr_in to{};
        to.sin_family = AF_INET;
        to.sin_port = htons(port);
        to.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
        connected_ = ::connect(fd_, reinterpret_cast<const sockaddr*>(&to), sizeof to) == 0;
    }
    ~Socket() {
        if (fd_ >= 0) ::close(fd_);
    }
    Socket(Socket&& other) noexcept
        : fd_(std::exchange(other.fd_, -1)), connected_(other.connected_), held_(std::move(other.held_)) {}
    Socket& operator=(Socket&&) = delete;

    [[nodiscard]] bool connected() const { return connected_; }

    /// False when the other side has closed, or takes no more within the time.
    bool send(std::string_view bytes, double seconds = 10) {
        const Deadline until = within(seconds);
        while (!bytes.empty()) {
            const ssize_t sent = ::send(fd_, bytes.data(), bytes.size(), MSG_NOSIGNAL | MSG_DONTWAIT);
            if (sent > 0) {
                bytes.remove_prefix(static_cast<std::size_t>(sent));
            } else {
                if (sent < 0 && errno != EAGAIN && errno != EWOULDBLOCK) return false;
                if (!ready(POLLOUT, until)) return false;
            }
        }
        return true;
    }

    /// What has come, at most `most` bytes, waiting for at least one; nothing at the end, or when the time is
    /// over.
    std::string some(Deadline until, std::size_t most = 65536) {
        if (!held_.empty()) return std::exchange(held_, {});
        std::string bytes(most, '\0');
        if (!ready(POLLIN, until)) return {};
        const ssize_t got = ::recv(fd_, bytes.data(), bytes.size(), 0);
        bytes.resize(got > 0 ? static_cast<std::size_t>(got) : 0);
        ended_ = got <= 0;
        return bytes;
    }
    /// The other side has closed.
    [[nodiscard]] bool ended() const { return ended_; }

    /// Everything until the other side closes.
    std::string rest(double seconds = 10) {
        const Deadline until = within(seconds);
        std::string out;
        while (!ended_ && std::chrono::steady_clock::now() < until) out += some(until);
        return out;
    }

    struct Answer {
        int status = 0;  ///< 0: none came
        std::string head, body;
        [[nodiscard]] std::string header(std::string name) const {
            const auto small = [](char c) { return c >= 'A' && c <= 'Z' ? static_cast<char>(c + 32) : c; };
            std::string low = head;
            std::ranges::transform(low, low.begin(), small);
            std::ranges::transform(name, name.begin(), small);
            const std::size_t at = low.find("\r\n" + name + ": ");
            if (at == std::string::npos) return "";
            const std::size_t from = at + name.size() + 4;
            return head.substr(from, head.find("\r\n", from) - from);
        }
        [[nodiscard]] nlohmann::json json() const {
            auto parsed = nlohmann::json::parse(body, nullptr, false);
            EXPECT_FALSE(parsed.is_discarded()) << status << " " << body.substr(0, 300);
            return parsed;
        }
    };
    /// One answer with a Content-Length.
    Answer answer(double seconds = 30, bool to_head = false) {
        const Deadline until = within(seconds);
        std::string text;
        std::size_t end = std::string::npos;
        while ((end = text.find("\r\n\r\n")) == std::string::npos) {
            const std::string more = some(until);
            if (more.empty()) return {};
            text += more;
        }
        Answer out;
        out.head = text.substr(0, end + 2);
        out.status = std::atoi(text.c_str() + std::string_view("HTTP/1.1 ").size());
        const std::string length = out.header("Content-Length");
        const std::size_t bytes = to_head || length.empty() ? 0 : std::stoul(length);
        out.body = text.substr(end + 4);
        while (out.body.size() < bytes) {
            const std::string more = some(until);
            if (more.empty()) break;
            out.body += more;
        }
        if (out.body.size() > bytes) held_ = out.body.substr(bytes);
        out.body.resize(std::min(out.body.size(), bytes));
        return out;
    }

  private:
    bool ready(short what, Deadline until) const {
        const auto left =
            std::chrono::duration_cast<std::chrono::milliseconds>(until - std::chrono::steady_clock::now());
        pollfd one{fd_, what, 0};
        return ::poll(&one, 1, static_cast<int>(std::max<std::int64_t>(left.count(), 0))) == 1;
    }
    int fd_;
    bool connected_ = false, ended_ = false;
    std::string held_;
};

/// A script that holds the token.
struct Client {
    std::uint16_t port = 0;
    std::string token;

    [[nodiscard]] std::string head(const std::string& method, const std::string& target,
                                   const std::string& more = "") const {
        return method + " " + target + " HTTP/1.1\r\nHost: 127.0.0.1:" + std::to_string(port) +
               "\r\nAuthorization: Bearer " + token + "\r\n" + more + "\r\n";
    }
    [[nodiscard]] std::string whole_post(const std::string& target, const std::string& body,
                                         const std::string& type = "application/json") const {
        return head("POST", target,
                    "Content-Type: " + type + "\r\nContent-Length: " + std::to_string(body.size()) + "\r\n") +
               body;
    }
    Socket::Answer get(const std::string& target, double seconds = 30) const {
        return send(head("GET", target, "Connection: close\r\n"), seconds);
    }
    Socket::Answer post(const std::string& target, const nlohmann::json& body, double seconds = 30) const {
        return send(whole_post(target, body.dump()), seconds);
    }
    Socket::Answer send(const std::string& bytes, double seconds = 30) const {
        Socket socket(port);
        socket.send(bytes);
        return socket.answer(seconds);
    }
};

/// Reads a stream of server-sent events.
class Viewer {
  public:
    struct Event {
        std::uint64_t id = 0;
        nlohmann::json data;
    };
    /// `after`: as in the address; nothing: from now on. Sent as Last-Event-ID where `reconnects`.
    Viewer(const Client& client, std::optional<std::uint64_t> after, bool reconnects = false,
           int receive_bytes = 0)
        : socket_(client.port, receive_bytes) {
        const std::string number = after ? std::to_string(*after) : "";
        socket_.send(client.head("GET", "/api/live" + (after && !reconnects ? "?after=" + number : ""),
                                 after && reconnects ? "Last-Event-ID: " + number + "\r\n" : ""));
    }
    /// Reads what comes until `until`, or until `enough` says so.
    template <class Enough>
    void read(Deadline until, const Enough& enough, std::size_t most = 65536) {
        while (!enough() && !socket_.ended() && std::chrono::steady_clock::now() < until)
            take(socket_.some(until, most));
    }
    void take(const std::string& bytes) {
        text_ += bytes;
        if (!begun_) {
            const std::size_t end = text_.find("\r\n\r\n");
            if (end == std::string::npos) return;
            head = text_.substr(0, end + 2);
            text_.erase(0, end + 4);
            begun_ = true;
        }
        std::size_t from = 0;
        for (std::size_t end; (end = text_.find("\n\n", from)) != std::string::npos; from = end + 2)
            one(text_.substr(from, end - from));
        text_.erase(0, from);
    }
    [[nodiscard]] std::uint64_t last() const { return events.empty() ? 0 : events.back().id; }
    [[nodiscard]] bool ended() const { return socket_.ended(); }
    [[nodiscard]] bool seen(const std::string& event) const { return seen_.contains(event); }
    Socket& socket() { return socket_; }

    std::string head;
    std::vector<Event> events;
    std::size_t comments = 0;
    /// Frames are not read but counted, with the samples of their first channel: reading JSON takes longer
    /// than sending it.
    bool only_counts_frames = false;
    std::size_t frames = 0;
    std::uint64_t samples = 0;

  private:
    void one(const std::string& block) {
        if (block.starts_with(':')) ++comments;
        if (!block.starts_with("id: ")) return;
        if (only_counts_frames && block.find("\"event\":\"frame\"") != std::string::npos) {
            ++frames;
            const std::size_t channel = block.find("\"channels\":[{"),
                              count = block.find("\"samples\":", channel);
            if (channel != std::string::npos && count != std::string::npos)
                samples += std::stoull(block.substr(count + std::string_view("\"samples\":").size()));
            return;
        }
        Event event;
        event.id = std::stoull(block.substr(4));
        const std::size_t data = block.find("\ndata: ");
        ASSERT_NE(data, std::string::npos) << block.substr(0, 200);
        event.data = nlohmann::json::parse(block.substr(data + 7), nullptr, false);
        EXPECT_FALSE(event.data.is_discarded()) << block.substr(0, 200);
        seen_.insert(event.data.value("event", ""));
        events.push_back(std::move(event));
    }
    Socket socket_;
    std::string text_;
    std::set<std::string> seen_;
    bool begun_ = false;
};

}  // namespace ebbtide::testing_support
