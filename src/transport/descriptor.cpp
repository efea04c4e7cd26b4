#include "transport/descriptor.hpp"

#include <poll.h>
#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <chrono>
#include <cstring>
#include <memory>
#include <utility>

#include <fmt/format.h>

namespace ebbtide::transport {
namespace {

constexpr double longest_s = 1e8;

std::int64_t now_ns() {
    return std::chrono::duration_cast<std::chrono::nanoseconds>(
               std::chrono::steady_clock::now().time_since_epoch())
        .count();
}

}  // namespace

Descriptor::Descriptor(Descriptor&& other) noexcept : file_(std::exchange(other.file_, -1)) {}

Descriptor& Descriptor::operator=(Descriptor&& other) noexcept {
    if (this != &other) {
        if (file_ >= 0) ::close(file_);
        file_ = std::exchange(other.file_, -1);
    }
    return *this;
}

Descriptor::~Descriptor() {
    if (file_ >= 0) ::close(file_);
}

Deadline::Deadline(double seconds)
    : end_ns_(now_ns() + static_cast<std::int64_t>(std::clamp(seconds, 0.0, longest_s) * 1e9)) {}

int Deadline::left_ms() const {
    const std::int64_t left_ns = end_ns_ - now_ns();
    constexpr std::int64_t most_ms = 1 << 30;
    return left_ns <= 0 ? 0 : static_cast<int>(std::min((left_ns + 999'999) / 1'000'000, most_ms));
}

Result<bool> wait_for(int file, bool to_write, const Deadline& deadline, const std::string& name) {
    for (;;) {
        struct pollfd asked {
            file, static_cast<short>(to_write ? POLLOUT : POLLIN), 0
        };
        const int ready = ::poll(&asked, 1, deadline.left_ms());
        if (ready > 0) return true;  // also when it broke: whoever reads or writes is told how
        if (ready == 0) {
            if (deadline.left_ms() == 0) return false;
        } else if (errno != EINTR) {
            return Error{Fault::unreadable, std::string("cannot be waited for: ") + std::strerror(errno),
                         name, "Open it again"};
        }
    }
}

Error DescriptorLink::lost(int cause) const {
    return {Fault::unreadable, std::string("the link is lost: ") + std::strerror(cause), name_, remedy_};
}

Result<Arrival> DescriptorLink::read(char* into, std::size_t room, double timeout_s) {
    const Deadline deadline(timeout_s);
    for (;;) {
        const Result<bool> ready = wait_for(file(), false, deadline, name_);
        if (!ready) return ready.error();
        if (!*ready) return Arrival{};
        const ssize_t got = ::read(file(), into, room);
        if (got > 0) return Arrival{Arrival::State::bytes, static_cast<std::size_t>(got)};
        if (got == 0 && can_end()) return Arrival{Arrival::State::ended};
        if (got == 0) return lost(ENODEV);
        if (errno != EINTR && errno != EAGAIN && errno != EWOULDBLOCK) return lost(errno);
    }
}

long DescriptorLink::put(const char* bytes, std::size_t count) {
    return ::write(file(), bytes, count);
}

Result<Done> DescriptorLink::write(std::string_view bytes, double timeout_s) {
    const Deadline deadline(timeout_s);
    const std::size_t all = bytes.size();
    while (!bytes.empty()) {
        const Result<bool> ready = wait_for(file(), true, deadline, name_);
        if (!ready) return ready.error();
        if (!*ready)
            return Error{Fault::unreadable,
                         fmt::format("took {} of {} bytes in {} s", all - bytes.size(), all, timeout_s),
                         name_, remedy_};
        const long wrote = put(bytes.data(), bytes.size());
        if (wrote >= 0)
            bytes.remove_prefix(static_cast<std::size_t>(wrote));
        else if (errno != EINTR && errno != EAGAIN && errno != EWOULDBLOCK)
            return lost(errno);
    }
    return Done{};
}

std::unique_ptr<ByteStream> standard_input() {
    // A descriptor of our own, so that closing it leaves standard input to others.
    return std::make_unique<DescriptorLink>(Descriptor(::dup(STDIN_FILENO)), "standard input",
                                            "Check what writes into it");
}

}  // namespace ebbtide::transport
