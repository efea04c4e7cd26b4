#include "cli/live_screen.hpp"

#include <fmt/format.h>
#include <poll.h>
#include <sys/ioctl.h>
#include <termios.h>
#include <unistd.h>

#include <algorithm>
#include <cstdio>

namespace ebbtide::cli {
namespace {

ScreenSize size_of_terminal() {
    ScreenSize size;
    struct winsize window {};
    if (::ioctl(STDOUT_FILENO, TIOCGWINSZ, &window) != 0) return size;
    size.columns = std::max<std::size_t>(size.columns, window.ws_col);
    size.rows = std::max<std::size_t>(size.rows, window.ws_row);
    return size;
}

}  // namespace

struct Keys::Before {
    struct termios settings {};
};

Keys::Keys(bool wanted) : before_(std::make_unique<Before>()) {
    if (!wanted || ::isatty(STDIN_FILENO) == 0 || ::tcgetattr(STDIN_FILENO, &before_->settings) != 0) return;
    struct termios now = before_->settings;
    now.c_lflag &= ~static_cast<tcflag_t>(ICANON | ECHO);
    now.c_cc[VMIN] = 0;
    now.c_cc[VTIME] = 0;
    there_ = ::tcsetattr(STDIN_FILENO, TCSANOW, &now) == 0;
}

Keys::~Keys() {
    if (there_) ::tcsetattr(STDIN_FILENO, TCSANOW, &before_->settings);
}

std::optional<char> Keys::next(std::chrono::milliseconds wait) const {
    if (!there_) return {};
    struct pollfd input {
        STDIN_FILENO, POLLIN, 0
    };
    char key = 0;
    if (::poll(&input, 1, static_cast<int>(wait.count())) != 1 || ::read(STDIN_FILENO, &key, 1) != 1)
        return {};
    return key;
}

bool LiveScreen::possible() {
    return ::isatty(STDOUT_FILENO) != 0;
}

LiveScreen::LiveScreen() {
    fmt::print("\x1b[2J");
}

LiveScreen::~LiveScreen() {
    draw();
    fmt::print("\n");
    std::fflush(stdout);
}

void LiveScreen::draw() {
    drawn_ = std::chrono::steady_clock::now();
    ScreenSize size = size_of_terminal();
    --size.rows;  // the cursor stands below
    std::string all = "\x1b[H";
    for (const std::string& line : live_lines(state, size)) all += line + "\x1b[K\r\n";
    fmt::print("{}\x1b[J", all);
    std::fflush(stdout);
}

void LiveScreen::draw_when_due() {
    if (std::chrono::steady_clock::now() - drawn_ > std::chrono::milliseconds(100)) draw();
}

}  // namespace ebbtide::cli
