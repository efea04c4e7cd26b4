#pragma once
// Two ends of a line inside the test: a pseudo-terminal and its other side.

#include <fcntl.h>
#include <gtest/gtest.h>
#include <stdlib.h>
#include <termios.h>
#include <unistd.h>

#include <string>

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
    void unplug() {
        if (file_ >= 0) ::close(file_);
        file_ = -1;
    }

  private:
    int file_;
    std::string device_;
};

}  // namespace ebbtide::transport
