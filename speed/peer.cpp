#include "peer.hpp"

#include <fcntl.h>
#include <sys/wait.h>
#include <unistd.h>
#include <array>
#include <csignal>
#include <stdexcept>

namespace ebbtide::speed {

Peer::Peer(const std::vector<std::string>& command) {
    for (const std::string& word : command) words_ += (words_.empty() ? "" : " ") + word;
    // Closed in every other child, or a peer would wait for the end of an input that its siblings hold open.
    std::array<int, 2> down{}, up{};
    if (pipe2(down.data(), O_CLOEXEC) != 0 || pipe2(up.data(), O_CLOEXEC) != 0)
        throw std::runtime_error("no pipe for " + words_);
    std::signal(SIGPIPE, SIG_IGN);
    process_ = fork();
    if (process_ < 0) throw std::runtime_error("cannot start " + words_);
    if (process_ == 0) {
        dup2(down[0], STDIN_FILENO);
        dup2(up[1], STDOUT_FILENO);
        std::vector<char*> words;
        for (const std::string& word : command) words.push_back(const_cast<char*>(word.c_str()));
        words.push_back(nullptr);
        execvp(words[0], words.data());
        _exit(127);
    }
    close(down[0]);
    close(up[1]);
    to_ = fdopen(down[1], "w");
    from_ = fdopen(up[0], "r");
}

Peer::~Peer() {
    // The end of its input tells the peer to leave.
    std::fclose(to_);
    std::fclose(from_);
    waitpid(process_, nullptr, 0);
}

Lap Peer::turn() {
    std::fputs("go\n", to_);
    std::fflush(to_);
    Lap lap;
    if (std::fscanf(from_, "%lf %lf", &lap.seconds, &lap.answer) != 2)
        throw std::runtime_error("the peer gave no time: " + words_);
    return lap;
}

Contender peer(const std::string& name, const std::vector<std::string>& command) {
    auto started = std::make_shared<std::unique_ptr<Peer>>();
    return {name, [started, command] {
                if (!*started) *started = std::make_unique<Peer>(command);
                return (*started)->turn();
            }};
}

}  // namespace ebbtide::speed
