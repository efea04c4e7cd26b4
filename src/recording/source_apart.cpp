#include "recording/source_apart.hpp"

#include <fcntl.h>
#include <fmt/format.h>
#include <poll.h>
#include <signal.h>
#include <sys/prctl.h>
#include <sys/resource.h>
#include <sys/time.h>
#include <sys/wait.h>
#include <unistd.h>

#include <array>
#include <cerrno>
#include <cstdio>
#include <exception>
#include <utility>

#include "recording/block_message.hpp"

namespace ebbtide::recording {

namespace {

// A message: what it is, its length, its bytes.
enum class Message : std::uint32_t { description, block, error, end };
struct Envelope {
    Message message;
    std::uint32_t size;
};
constexpr std::uint32_t largest_message = std::uint32_t{1} << 28;

#if defined(__SANITIZE_ADDRESS__)
constexpr bool shadow_memory = true;
#elif defined(__has_feature)
#if __has_feature(address_sanitizer)
constexpr bool shadow_memory = true;
#else
constexpr bool shadow_memory = false;
#endif
#else
constexpr bool shadow_memory = false;
#endif

// ---- in the other process ----

void send(int pipe, Message message, const std::string& bytes) {
    const Envelope envelope{message, static_cast<std::uint32_t>(bytes.size())};
    std::string whole(reinterpret_cast<const char*>(&envelope), sizeof envelope);
    whole += bytes;
    for (std::size_t at = 0; at < whole.size();) {
        const ssize_t wrote = ::write(pipe, whole.data() + at, whole.size() - at);
        if (wrote < 0 && errno == EINTR) continue;
        if (wrote <= 0) ::_exit(0);  // nobody listens any more
        at += static_cast<std::size_t>(wrote);
    }
}

/// Computing time until the next call, after which the process is ended.
void allow(std::chrono::seconds step) {
    const itimerval timer{{0, 0}, {static_cast<time_t>(step.count()), 0}};
    ::setitimer(ITIMER_PROF, &timer, nullptr);
}

void confine(int pipe, int descriptor, const Bounds& bounds) {
    ::prctl(PR_SET_PDEATHSIG, SIGKILL);
    for (const int signal : {SIGPROF, SIGPIPE, SIGABRT, SIGTERM, SIGINT}) ::signal(signal, SIG_DFL);
    // What a failing library prints is for nobody, and no other file is its business.
    const int nowhere = ::open("/dev/null", O_RDWR);
    for (const int standard : {0, 1, 2})
        if (standard != descriptor && standard != pipe) ::dup2(nowhere, standard);
    const auto close_from_to = [](int first, int last) {
        if (first <= last) ::close_range(static_cast<unsigned>(first), static_cast<unsigned>(last), 0);
    };
    const int low = std::min(pipe, descriptor), high = std::max(pipe, descriptor);
    close_from_to(3, low - 1);
    close_from_to(std::max(3, low + 1), high - 1);
    close_from_to(std::max(3, high + 1), ~0u >> 1);
    const rlimit no_core{0, 0};
    ::setrlimit(RLIMIT_CORE, &no_core);
    if (shadow_memory) return;  // sanitizers reserve terabytes that they never use
    std::uint64_t pages = 0;
    if (std::FILE* statm = std::fopen("/proc/self/statm", "r")) {
        unsigned long long read = 0;
        if (std::fscanf(statm, "%llu", &read) == 1) pages = read;
        std::fclose(statm);
    }
    const rlim_t most = pages * static_cast<std::uint64_t>(::sysconf(_SC_PAGESIZE)) + bounds.memory_bytes;
    const rlimit memory{most, most};
    ::setrlimit(RLIMIT_AS, &memory);
}

void send_all(int pipe, const std::function<Result<std::unique_ptr<Source>>()>& open_there,
              const Bounds& bounds) {
    allow(bounds.step);
    auto source = open_there();
    if (!source) return send(pipe, Message::error, packed(source.error()));
    send(pipe, Message::description, packed((*source)->description()));
    Block block;
    for (;;) {
        allow(bounds.step);
        const Result<bool> more = (*source)->next(block);
        if (!more) return send(pipe, Message::error, packed(more.error()));
        if (!*more) break;
        send(pipe, Message::block, packed(block));
    }
    // Reading may have found more of it than opening did.
    send(pipe, Message::end, packed((*source)->description()));
}

[[noreturn]] void work_there(int pipe, int descriptor, const std::string& name,
                             const std::function<Result<std::unique_ptr<Source>>()>& open_there,
                             const Bounds& bounds) {
    confine(pipe, descriptor, bounds);
    try {
        send_all(pipe, open_there, bounds);
    } catch (const std::exception&) {
        send(pipe, Message::error,
             packed(Error{Fault::bad_input,
                          fmt::format("needs more than {} bytes of memory to be read", bounds.memory_bytes),
                          name, "The file is damaged, or holds pieces too large for this program"}));
    }
    // Neither buffers nor objects of the process this one was made from are to be ended twice.
    ::_exit(0);
}

// ---- in this process ----

class Apart final : public Source {
  public:
    Apart(pid_t process, int pipe, std::string name, const Bounds& bounds)
        : process_(process), pipe_(pipe), name_(std::move(name)), bounds_(bounds) {}
    ~Apart() override {
        ::close(pipe_);
        if (process_ > 0) {
            ::kill(process_, SIGKILL);
            ::waitpid(process_, nullptr, 0);
        }
    }
    Apart(const Apart&) = delete;
    Apart& operator=(const Apart&) = delete;

    std::optional<Error> begin() {
        const Result<Message> message = receive();
        if (!message) return message.error();
        if (*message == Message::error) return error_sent();
        auto description = *message == Message::description ? unpacked_description(bytes_) : std::nullopt;
        if (!description) return nonsense();
        description_ = std::move(*description);
        return std::nullopt;
    }

    const Description& description() const override { return description_; }
    std::string sha256() override { return {}; }
    std::uint64_t bytes() const override { return 0; }

    Result<bool> next(Block& block) override {
        if (ended_) return false;
        const Result<Message> message = receive();
        if (!message) return message.error();
        if (*message == Message::error) return error_sent();
        const std::size_t channels = description_.channels.size();
        if (*message == Message::block && unpack_block(bytes_, channels, block)) return true;
        auto description = *message == Message::end ? unpacked_description(bytes_) : std::nullopt;
        if (!description || description->channels.size() != channels) return nonsense();
        description_ = std::move(*description);
        ended_ = true;
        return false;
    }

  private:
    Result<Message> receive() {
        Envelope envelope{};
        if (auto error = fill(reinterpret_cast<char*>(&envelope), sizeof envelope)) return *error;
        if (envelope.message > Message::end || envelope.size > largest_message) return nonsense();
        bytes_.resize(envelope.size);
        if (auto error = fill(bytes_.data(), bytes_.size())) return *error;
        return envelope.message;
    }

    std::optional<Error> fill(char* into, std::size_t size) {
        // It computes for so long at most, and may have to wait for a disk besides.
        const int patience_ms = static_cast<int>(2 * 1000 * bounds_.step.count());
        while (size > 0) {
            pollfd ready{pipe_, POLLIN, 0};
            const int polled = ::poll(&ready, 1, patience_ms);
            if (polled < 0 && errno == EINTR) continue;
            if (polled == 0) return too_long();
            const ssize_t got = ::read(pipe_, into, size);
            if (got < 0 && errno == EINTR) continue;
            if (got <= 0) return ended_early();
            into += got;
            size -= static_cast<std::size_t>(got);
        }
        return std::nullopt;
    }

    Error error_sent() const {
        const auto error = unpacked_error(bytes_);
        return error ? *error : nonsense();
    }
    Error too_long() const {
        return damaged(fmt::format("takes longer than {} s to be read on", bounds_.step.count()));
    }
    Error nonsense() const { return damaged("made its reader send what is no recording"); }
    Error ended_early() {
        int status = 0;
        pid_t ended = 0;
        do ended = ::waitpid(process_, &status, 0);
        while (ended < 0 && errno == EINTR);
        process_ = -1;
        if (ended > 0 && WIFSIGNALED(status) && WTERMSIG(status) == SIGPROF) return too_long();
        return damaged("makes its reader fail");
    }
    Error damaged(std::string what) const {
        return {Fault::bad_input, std::move(what), name_,
                "The file is damaged: look for another copy, or make it anew with the program that wrote it"};
    }

    pid_t process_;
    int pipe_;
    std::string name_;
    Bounds bounds_;
    std::string bytes_;  // of the message at hand
    Description description_;
    bool ended_ = false;
};

}  // namespace

Result<std::unique_ptr<Source>> open_apart(const std::function<Result<std::unique_ptr<Source>>()>& open_there,
                                           int descriptor, const std::string& name, const Bounds& bounds) {
    const Error none{Fault::unreadable, "no process could be started to read it", name,
                     "Close other programs, then try again"};
    std::array<int, 2> pipe{};
    if (::pipe2(pipe.data(), O_CLOEXEC) != 0) return none;
    const pid_t process = ::fork();
    if (process == 0) work_there(pipe[1], descriptor, name, open_there, bounds);
    ::close(pipe[1]);
    if (process < 0) {
        ::close(pipe[0]);
        return none;
    }
    auto source = std::make_unique<Apart>(process, pipe[0], name, bounds);
    if (auto error = source->begin()) return *error;
    return std::unique_ptr<Source>(std::move(source));
}

}  // namespace ebbtide::recording
