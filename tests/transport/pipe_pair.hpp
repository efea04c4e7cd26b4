#pragma once
// Two ends of a line inside the test: a pseudo-terminal and its other side.

#include <fcntl.h>
#include <gtest/gtest.h>
#include <stdlib.h>
#include <sys/ioctl.h>
#include <termios.h>
#include <unistd.h>

#include <chrono>
#include <string>
#include <thread>

namespace ebbtide::transport {

/// The side that a logger would be at. `device` is what our side opens.
class PseudoTerminal {
  public:
    PseudoTerminal() : file_(::posix_openpt(O_RDWR | O_NOCTTY)) {
        char name[128] = "";
        if (file_ < 0 || ::grantpt(file_) != 0 || ::unlockpt(file_) != 0 ||
            ::ptsname_r(file_, name, sizeof name) != 0)
            ADD_FAILURE() << "no pseudo-terminal";
        device_ = name;
    }
    ~PseudoTerminal() { unplug(); }
    PseudoTerminal(const PseudoTerminal&) = delete;
    PseudoTerminal& operator=(const PseudoTerminal&) = delete;

    [[nodiscard]] const std::string& device() const { return device_; }
    void send(std::string_view bytes) const {
        while (!bytes.empty()) {
            const ssize_t wrote = ::write(file_, bytes.data(), bytes.size());
            if (wrote <= 0) return;
            bytes.remove_prefix(static_cast<std::size_t>(wrote));
        }
    }
    [[nodiscard]] std::string received(std::size_t at_most) const {
        std::string out(at_most, '\0');
        const ssize_t got = ::read(file_, out.data(), out.size());
        out.resize(got > 0 ? static_cast<std::size_t>(got) : 0);
        return out;
    }
    /// Whether our side has opened the line as it must: nothing that is sent is changed or sent back.
    [[nodiscard]] bool is_raw() const {
        termios line{};
        return ::tcgetattr(file_, &line) == 0 && (line.c_lflag & (ICANON | ECHO)) == 0;
    }
    /// Whether our side has taken all that was sent: nothing has lain there for a while.
    [[nodiscard]] bool all_read() const {
        const int line = ::open(device_.c_str(), O_RDONLY | O_NOCTTY | O_NONBLOCK);
        int waiting = line < 0 ? 1 : 0;
        for (int look = 0; look < 10 && waiting == 0; ++look) {
            if (::ioctl(line, FIONREAD, &waiting) != 0) waiting = 1;
            std::this_thread::sleep_for(std::chrono::milliseconds(5));
        }
        if (line >= 0) ::close(line);
        return waiting == 0;
    }
    /// False when it has not come about within half a minute.
    template <class Condition>
    [[nodiscard]] static bool wait_until(Condition condition) {
        for (int look = 0; look < 6000; ++look) {
            if (condition()) return true;
            std::this_thread::sleep_for(std::chrono::milliseconds(5));
        }
        return false;
    }
    void unplug() {
        if (file_ >= 0) ::close(file_);
        file_ = -1;
    }

  private:
    int file_;
    std::string device_;
};

}  // namespace ebbtide::transport
