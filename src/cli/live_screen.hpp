#pragma once
// The terminal while a bench is listened to or driven: one picture that is drawn over and over, as wide and
// high as the terminal is, and keys one at a time. Plain text and three movements of the cursor, no colour:
// it works over ssh, and NO_COLOR has nothing to forbid.

#include <chrono>
#include <memory>
#include <optional>

#include "cli/live_view.hpp"

namespace ebbtide::cli {

/// Keys one at a time, unseen, while this lives. Only where standard input is a terminal.
class Keys {
  public:
    explicit Keys(bool wanted);
    ~Keys();
    Keys(const Keys&) = delete;
    Keys& operator=(const Keys&) = delete;

    [[nodiscard]] bool there() const { return there_; }
    /// Nothing when none was pressed within `wait`.
    [[nodiscard]] std::optional<char> next(std::chrono::milliseconds wait = {}) const;

  private:
    struct Before;  ///< the terminal's settings
    std::unique_ptr<Before> before_;
    bool there_ = false;
};

/// Draws a state. What it drew last stays on the screen when it ends.
class LiveScreen {
  public:
    /// Whether standard output can be drawn on.
    [[nodiscard]] static bool possible();
    LiveScreen();
    ~LiveScreen();
    LiveScreen(const LiveScreen&) = delete;
    LiveScreen& operator=(const LiveScreen&) = delete;

    LiveState state;
    void draw();
    /// As often as an eye can follow: ten times a second at most.
    void draw_when_due();

  private:
    std::chrono::steady_clock::time_point drawn_ = {};
};

}  // namespace ebbtide::cli
