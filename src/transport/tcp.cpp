#include "transport/tcp.hpp"

#include <arpa/inet.h>
#include <netdb.h>
#include <netinet/in.h>
#include <netinet/tcp.h>
#include <sys/socket.h>

#include <cerrno>
#include <cstring>
#include <memory>

#include <fmt/format.h>

namespace ebbtide::transport {
namespace {

std::string place(const std::string& host, std::uint16_t port) {
    const bool number_of_six = host.find(':') != std::string::npos;
    return number_of_six ? fmt::format("tcp://[{}]:{}", host, port) : fmt::format("tcp://{}:{}", host, port);
}

Error refused(const std::string& where, const std::string& why) {
    return {Fault::unreadable, "cannot be connected to: " + why, where,
            "Check that the sender is on and listens there, the host's name and the port"};
}

class TcpLink final : public DescriptorLink {
  public:
    TcpLink(Descriptor descriptor, std::string name)
        : DescriptorLink(std::move(descriptor), std::move(name),
                         "Check the cable and the sender, then connect again") {}

  protected:
    long put(const char* bytes, std::size_t count) override {
        return ::send(file(), bytes, count, MSG_NOSIGNAL | MSG_DONTWAIT);
    }
};

void send_at_once(int file) {
    const int yes = 1;
    // Where it is refused the link still works, only slower.
    static_cast<void>(::setsockopt(file, IPPROTO_TCP, TCP_NODELAY, &yes, sizeof yes));
}

/// The errno of a connection that was begun and has come to an end; 0 when it stands.
int outcome_of(int file) {
    int outcome = 0;
    socklen_t size = sizeof outcome;
    return ::getsockopt(file, SOL_SOCKET, SO_ERROR, &outcome, &size) == 0 ? outcome : errno;
}

}  // namespace

Result<std::unique_ptr<Link>> connect_tcp(const std::string& host, std::uint16_t port, double timeout_s) {
    const std::string where = place(host, port);
    struct addrinfo wanted {};
    wanted.ai_family = AF_UNSPEC;
    wanted.ai_socktype = SOCK_STREAM;
    wanted.ai_flags = AI_NUMERICSERV;
    struct addrinfo* first = nullptr;
    if (const int wrong = ::getaddrinfo(host.c_str(), std::to_string(port).c_str(), &wanted, &first))
        return refused(where, ::gai_strerror(wrong));
    const std::unique_ptr<struct addrinfo, decltype(&::freeaddrinfo)> found(first, &::freeaddrinfo);
    const Deadline deadline(timeout_s);
    std::string why = "no address";
    for (const struct addrinfo* at = found.get(); at != nullptr; at = at->ai_next) {
        Descriptor socket(::socket(at->ai_family, SOCK_STREAM | SOCK_NONBLOCK | SOCK_CLOEXEC, 0));
        if (!socket.open()) {
            why = std::strerror(errno);
            continue;
        }
        if (::connect(socket.get(), at->ai_addr, at->ai_addrlen) != 0) {
            if (errno != EINPROGRESS) {
                why = std::strerror(errno);
                continue;
            }
            const auto ready = wait_for(socket.get(), true, deadline, where);
            if (!ready) return ready.error();
            if (!*ready) {
                why = fmt::format("no answer in {} s", timeout_s);
                continue;
            }
            if (const int outcome = outcome_of(socket.get()); outcome != 0) {
                why = std::strerror(outcome);
                continue;
            }
        }
        send_at_once(socket.get());
        return std::unique_ptr<Link>(std::make_unique<TcpLink>(std::move(socket), where));
    }
    return refused(where, why);
}

Result<TcpListener> TcpListener::on_loopback(std::uint16_t port) {
    const auto wrong = [port] {
        return Error{Fault::unreadable, std::string("cannot be listened at: ") + std::strerror(errno),
                     place("127.0.0.1", port), "Choose another port, or 0 for any that is free"};
    };
    Descriptor socket(::socket(AF_INET, SOCK_STREAM | SOCK_NONBLOCK | SOCK_CLOEXEC, 0));
    if (!socket.open()) return wrong();
    const int yes = 1;
    static_cast<void>(::setsockopt(socket.get(), SOL_SOCKET, SO_REUSEADDR, &yes, sizeof yes));
    struct sockaddr_in here {};
    here.sin_family = AF_INET;
    here.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
    here.sin_port = htons(port);
    socklen_t size = sizeof here;
    auto* const address = reinterpret_cast<struct sockaddr*>(&here);
    if (::bind(socket.get(), address, size) != 0 || ::listen(socket.get(), 1) != 0 ||
        ::getsockname(socket.get(), address, &size) != 0)
        return wrong();
    return TcpListener(std::move(socket), ntohs(here.sin_port));
}

Result<std::unique_ptr<Link>> TcpListener::accept(double timeout_s) {
    const std::string where = place("127.0.0.1", port_);
    const Deadline deadline(timeout_s);
    for (;;) {
        const auto ready = wait_for(descriptor_.get(), false, deadline, where);
        if (!ready) return ready.error();
        if (!*ready)
            return Error{Fault::unreadable, fmt::format("nobody has connected in {} s", timeout_s), where,
                         "Start the sender, and give it this host and port"};
        Descriptor socket(::accept4(descriptor_.get(), nullptr, nullptr, SOCK_NONBLOCK | SOCK_CLOEXEC));
        if (socket.open()) {
            send_at_once(socket.get());
            return std::unique_ptr<Link>(std::make_unique<TcpLink>(std::move(socket), where));
        }
        // Whoever knocked may have gone again.
        if (errno != EINTR && errno != EAGAIN && errno != ECONNABORTED)
            return Error{Fault::unreadable, std::string("cannot accept: ") + std::strerror(errno), where,
                         "Close other connections of this program and try again"};
    }
}

}  // namespace ebbtide::transport
