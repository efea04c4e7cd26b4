#include "transport/growing_file.hpp"

#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <chrono>
#include <cstring>
#include <thread>

#include <fmt/format.h>

#include "transport/descriptor.hpp"

namespace ebbtide::transport {
namespace {

/// How long a writer's last bytes may lie unseen. Looking costs one call of the system.
constexpr int look_again_ms = 10;

class GrowingFile final : public ByteStream {
  public:
    GrowingFile(Descriptor descriptor, std::string path, struct stat about)
        : descriptor_(std::move(descriptor)),
          path_(std::move(path)),
          device_(about.st_dev),
          inode_(about.st_ino) {}

    Result<Arrival> read(char* into, std::size_t room, double timeout_s) override {
        const Deadline deadline(timeout_s);
        for (;;) {
            const ssize_t got = ::pread(descriptor_.get(), into, room, static_cast<off_t>(taken_));
            if (got > 0) {
                taken_ += static_cast<std::uint64_t>(got);
                return Arrival{Arrival::State::bytes, static_cast<std::size_t>(got)};
            }
            if (got < 0 && errno != EINTR) return gone(std::strerror(errno));
            if (auto changed = replaced()) return *changed;
            const int left_ms = std::min(deadline.left_ms(), look_again_ms);
            if (left_ms == 0) return Arrival{};
            std::this_thread::sleep_for(std::chrono::milliseconds(left_ms));
        }
    }
    const std::string& name() const override { return path_; }

  private:
    Error gone(const std::string& why) const {
        return {Fault::unreadable, why, path_, "Start listening again: what follows is another recording"};
    }

    std::optional<Error> replaced() const {
        struct stat about {};
        if (::fstat(descriptor_.get(), &about) != 0) return gone(std::strerror(errno));
        if (static_cast<std::uint64_t>(about.st_size) < taken_)
            return gone(fmt::format("the file became shorter: {} bytes were read, {} are there", taken_,
                                    about.st_size));
        // What is still there is read before anything else is said.
        if (static_cast<std::uint64_t>(about.st_size) > taken_) return {};
        struct stat named {};
        // A writer that renames may leave the name empty for a moment.
        if (::stat(path_.c_str(), &named) != 0) return {};
        if (named.st_dev != device_ || named.st_ino != inode_)
            return gone(fmt::format("another file lies under this name now; {} bytes of the first were read",
                                    taken_));
        return {};
    }

    Descriptor descriptor_;
    std::string path_;
    dev_t device_;
    ino_t inode_;
    std::uint64_t taken_ = 0;
};

}  // namespace

Result<std::unique_ptr<ByteStream>> follow_file(const std::string& path) {
    Descriptor file(::open(path.c_str(), O_RDONLY | O_CLOEXEC));
    struct stat about {};
    if (!file.open() || ::fstat(file.get(), &about) != 0)
        return Error{Fault::unreadable, std::string("cannot be read: ") + std::strerror(errno), path,
                     "Check the path, and start the logger first"};
    if (!S_ISREG(about.st_mode))
        return Error{Fault::bad_input, "is no plain file, which alone can be followed", path,
                     "Name the logger's file; a pipe is read without following"};
    return std::unique_ptr<ByteStream>(std::make_unique<GrowingFile>(std::move(file), path, about));
}

}  // namespace ebbtide::transport
