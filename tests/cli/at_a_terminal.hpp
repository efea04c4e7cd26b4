#pragma once
// The program on a pseudo-terminal.

#include <fcntl.h>
#include <gtest/gtest.h>
#include <signal.h>
#include <sys/ioctl.h>
#include <sys/wait.h>
#include <unistd.h>

#include <chrono>
#include <mutex>
#include <string>
#include <thread>
#include <vector>

#include "support/program.hpp"
#include "transport/pipe_pair.hpp"

namespace ebbtide::testing_support {

/// The program at one side of a pseudo-terminal, the test at the other.
class AtATerminal {
  public:
    explicit AtATerminal(const std::vector<std::string>& arguments) {
        child_ = ::fork();
        if (child_ == 0) {
            ::setsid();
            const int terminal = ::open(terminal_.device().c_str(), O_RDWR);
            for (const int descriptor : {0, 1, 2}) ::dup2(terminal, descriptor);
            std::vector<char*> argv{const_cast<char*>(EBBTIDE_PROGRAM)};
            for (const std::string& argument : arguments) argv.push_back(const_cast<char*>(argument.c_str()));
            argv.push_back(nullptr);
            ::alarm(120);
            ::execv(EBBTIDE_PROGRAM, argv.data());
            ::_exit(127);
        }
        watcher_ = std::thread([this] {
            for (;;) {
                const std::string seen = terminal_.received(4096);
                const std::lock_guard lock(mutex_);
                // A terminal without anybody at its other side gives nothing, also before somebody comes.
                if (seen.empty() && over_) return;
                seen_ += seen;
            }
        });
    }
    ~AtATerminal() {
        if (child_ > 0) ::kill(child_, SIGKILL);
        wait();
        watcher_.join();
    }
    AtATerminal(const AtATerminal&) = delete;
    AtATerminal& operator=(const AtATerminal&) = delete;

    void press(const std::string& keys) const { terminal_.send(keys); }
    /// Whether the text is seen in time, from what was seen before on.
    bool sees(const std::string& text) {
        const auto start = std::chrono::steady_clock::now();
        do {
            {
                const std::lock_guard lock(mutex_);
                if (const std::size_t at = seen_.find(text, from_); at != std::string::npos) {
                    from_ = at + text.size();
                    return true;
                }
            }
            std::this_thread::sleep_for(std::chrono::milliseconds(10));
        } while (std::chrono::steady_clock::now() - start < std::chrono::seconds(30));
        const std::lock_guard lock(mutex_);
        ADD_FAILURE() << "'" << text << "' is not in " << seen_.substr(std::min(from_, seen_.size()));
        return false;
    }
    int wait() {
        int status = 0;
        if (child_ > 0) ::waitpid(child_, &status, 0);
        child_ = 0;
        const std::lock_guard lock(mutex_);
        over_ = true;
        return WIFEXITED(status) ? WEXITSTATUS(status) : -1;
    }

  private:
    transport::PseudoTerminal terminal_;
    pid_t child_ = 0;
    std::thread watcher_;
    std::mutex mutex_;  // over all that follows
    std::string seen_;
    std::size_t from_ = 0;
    bool over_ = false;
};

}  // namespace ebbtide::testing_support
