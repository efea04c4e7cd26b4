// The page's live stream: how old a frame is when fifty viewers have it.

#include <arpa/inet.h>
#include <fmt/core.h>
#include <netinet/in.h>
#include <poll.h>
#include <sys/socket.h>
#include <unistd.h>

#include <algorithm>
#include <charconv>
#include <chrono>
#include <functional>
#include <memory>
#include <optional>
#include <stdexcept>
#include <string_view>
#include <thread>

#include "peer.hpp"
#include "row.hpp"
#include "server/http.hpp"

namespace ebbtide::speed {
namespace {

constexpr std::size_t viewers = 50;
constexpr int frames = 40;
constexpr auto apart = std::chrono::milliseconds(50);  // twice as often as a bench makes them

double now_s() {
    return std::chrono::duration<double>(std::chrono::steady_clock::now().time_since_epoch()).count();
}

/// Fifty connections to a stream; a frame's `from_s` says when it was published.
class Viewers {
  public:
    Viewers(std::uint16_t port, const std::string& token) {
        const std::string request = fmt::format(
            "GET /api/live HTTP/1.1\r\nHost: 127.0.0.1:{}\r\nAuthorization: Bearer {}\r\n\r\n", port, token);
        sockaddr_in to{};
        to.sin_family = AF_INET;
        to.sin_port = htons(port);
        to.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
        for (std::size_t i = 0; i < viewers; ++i) {
            const int fd = ::socket(AF_INET, SOCK_STREAM, 0);
            if (::connect(fd, reinterpret_cast<const sockaddr*>(&to), sizeof to) != 0 ||
                ::send(fd, request.data(), request.size(), 0) != static_cast<ssize_t>(request.size()))
                throw std::runtime_error("no connection");
            polled_.push_back({fd, POLLIN, 0});
        }
        text_.resize(viewers);
        // Each has its head before the first frame comes.
        for (pollfd& one : polled_) {
            char head[4096];
            if (::recv(one.fd, head, sizeof head, 0) <= 0) throw std::runtime_error("no answer");
        }
    }
    ~Viewers() {
        for (const pollfd& one : polled_) ::close(one.fd);
    }
    Viewers(const Viewers&) = delete;
    Viewers& operator=(const Viewers&) = delete;

    /// Reads until every viewer has seen the frame that ends at `last_s`; the age of each frame at each.
    std::vector<double> read(double last_s) {
        std::vector<double> ages;
        for (std::size_t done = 0; done < viewers;) {
            if (::poll(polled_.data(), polled_.size(), 5000) <= 0) throw std::runtime_error("nothing comes");
            const double at_s = now_s();
            for (std::size_t v = 0; v < viewers; ++v) {
                if (polled_[v].revents == 0) continue;
                char bytes[65536];
                const ssize_t got = ::recv(polled_[v].fd, bytes, sizeof bytes, 0);
                if (got <= 0) throw std::runtime_error("the stream ended");
                std::string& text = text_[v];
                text.append(bytes, static_cast<std::size_t>(got));
                for (std::size_t end; (end = text.find("\n\n")) != std::string::npos;
                     text.erase(0, end + 2)) {
                    const std::string_view event = std::string_view(text).substr(0, end);
                    const auto from_s = number_behind("\"from_s\":", event);
                    if (!from_s) continue;  // no frame
                    ages.push_back(at_s - *from_s);
                    done += number_behind("\"to_s\":", event) == last_s;
                }
            }
        }
        return ages;
    }

  private:
    static std::optional<double> number_behind(std::string_view key, std::string_view event) {
        const std::size_t at = event.find(key);
        if (at == std::string_view::npos) return {};
        double value = 0;
        std::from_chars(event.data() + at + key.size(), event.data() + event.size(), value);
        return value;
    }
    std::vector<pollfd> polled_;
    std::vector<std::string> text_;
};

double share_below(std::vector<double> values, double share) {
    const auto at = static_cast<std::ptrdiff_t>(share * static_cast<double>(values.size() - 1));
    std::ranges::nth_element(values, values.begin() + at);
    return values[static_cast<std::size_t>(at)];
}

/// What `publish` publishes, as the viewers get it.
std::vector<double> ages_of(Viewers& watching, const std::function<void()>& publish) {
    std::thread bench(publish);
    std::vector<double> ages = watching.read(frames);
    bench.join();
    return ages;
}

}  // namespace

Row page_frames_row(const std::string&) {
    struct Bench {
        server::LiveFeed feed;
        std::unique_ptr<server::HttpServer> server;
        std::vector<double> ages;
    };
    const auto bench = std::make_shared<Bench>();
    auto open = server::HttpServer::open(
        "127.0.0.1", 0, [](const server::Request&) { return server::Reply{}; }, bench->feed);
    if (!open) throw std::runtime_error(open.error().text());
    bench->server = std::move(open).value();
    const auto node = std::make_shared<Peer>(std::vector<std::string>{
        "node", EBBTIDE_PEERS "/stream.mjs", std::to_string(frames), std::to_string(apart.count())});
    const auto node_port = static_cast<std::uint16_t>(node->turn().answer);

    Row row;
    row.id = "page_frames";
    row.work = "age of a frame of the live stream when a viewer has it, half of them younger";
    row.size =
        fmt::format("{} viewers, {} frames of two channels, one every {} ms", viewers, frames, apart.count());
    row.amount = 1;
    row.unit = "frames";
    row.ours = {
        "serve", [bench] {
            Viewers watching(bench->server->port(), bench->server->token());
            std::vector<double> ages = ages_of(watching, [&bench] {
                for (int i = 1; i <= frames; ++i) {
                    std::this_thread::sleep_for(apart);
                    bench->feed.publish(work::Frame{now_s(),
                                                    static_cast<double>(i),
                                                    {{500, -1.25, 1.25, 0.001}, {500, 4999, 5001, 5000}}});
                }
            });
            bench->ages.insert(bench->ages.end(), ages.begin(), ages.end());
            return Lap{share_below(std::move(ages), 0.5), frames};
        }};
    row.peers = {{"node http", [node, node_port] {
                      Viewers watching(node_port, "");
                      double published = 0;
                      std::vector<double> ages = ages_of(watching, [&] { published = node->turn().answer; });
                      return Lap{share_below(std::move(ages), 0.5), published};
                  }}};
    row.goals = {{"no older than the peer's", "node http", 1},
                 {"within the tenth of a second that a frame is long", "", 10}};
    row.findings = [bench] {
        const double late_s = share_below(bench->ages, 0.99);
        return std::vector<Finding>{
            {fmt::format(
                 "age at a viewer: median {:.2f} ms, 99 % within {:.1f} ms, all within {:.1f} ms ({} taken)",
                 1e3 * share_below(bench->ages, 0.5), 1e3 * late_s, 1e3 * std::ranges::max(bench->ages),
                 bench->ages.size()),
             late_s < 0.1}};
    };
    row.limit = "one system call a viewer; the fiftieth waits for those before it";
    return row;
}

}  // namespace ebbtide::speed
