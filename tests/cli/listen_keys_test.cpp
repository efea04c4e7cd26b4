// 'ebbtide listen' on a terminal: what a person sees, and what keys do.

#include <fcntl.h>
#include <fmt/format.h>
#include <gtest/gtest.h>
#include <signal.h>

#include <chrono>
#include <mutex>
#include <thread>

#include "support/program.hpp"
#include "transport/pipe_pair.hpp"
#include "transport/tcp.hpp"

namespace {

using namespace ebbtide;
using namespace ebbtide::testing_support;

const std::string example = EBBTIDE_SOURCE_DIR "/examples/halyard-cloth";

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

}  // namespace

TEST(ListenKeys, CorrectTheLastRunAndChooseTheNextPlace) {
    const TemporaryFolder beside;
    const std::string order = beside / "order";
    std::filesystem::create_directory(order);
    std::string text = bytes_of(example + "/order.toml");
    text.resize(text.find("# The runs of a recording"));
    text.insert(text.find("[laboratory]"), "live = \"live.toml\"\n\n");
    write_bytes(order + "/order.toml", text);
    std::filesystem::copy(example + "/bench.toml", order + "/bench.toml");

    auto listener = transport::TcpListener::on_loopback(0);
    ASSERT_TRUE(listener);
    AtATerminal person({"listen", fmt::format("tcp://127.0.0.1:{}", listener->port()), "--order", order,
                        "--conditions", "dry-1"});
    auto logger = listener->accept(30);
    ASSERT_TRUE(logger) << logger.error().text();
    ASSERT_TRUE(person.sees("next   W1 front dry-1 + 1"));
    const std::string recording = bytes_of(example + "/recordings/W1.csv");
    ASSERT_TRUE((*logger)->write(recording.substr(0, recording.size() * 3 / 4), 30));
    ASSERT_TRUE(person.sees("run 1  W1 front dry-1 + 1"));
    ASSERT_TRUE(person.sees("next   W1 back dry-1 + 1"));
    person.press("n");
    ASSERT_TRUE(person.sees("next   W2 front dry-1 + 1"));
    person.press("m");
    ASSERT_TRUE(person.sees("run 1  W2 front dry-1 + 1"));
    person.press("xslipped\n");
    ASSERT_TRUE(person.sees("does not count"));
    person.press("q");
    EXPECT_EQ(person.wait(), 0);
    const std::string live = bytes_of(order + "/live.toml");
    EXPECT_NE(live.find("set_aside = \"slipped\""), std::string::npos);
    EXPECT_NE(live.find("[[correction]]"), std::string::npos);
}
