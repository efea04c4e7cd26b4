#include "recording/byte_sink.hpp"

#include <fcntl.h>
#include <unistd.h>

#include <cerrno>
#include <cstring>

namespace ebbtide::recording {
namespace {

Error cannot_write(const std::string& path, int cause) {
    return {Fault::unreadable, std::string("cannot be written: ") + std::strerror(cause), path,
            "Check that the folder is there, writable and not full"};
}

class File final : public ByteSink {
  public:
    File(int file, std::string path) : file_(file), path_(std::move(path)) {}
    ~File() override { ::close(file_); }
    File(const File&) = delete;
    File& operator=(const File&) = delete;

    Result<Done> write(std::string_view bytes) override {
        while (!bytes.empty()) {
            const ssize_t wrote = ::write(file_, bytes.data(), bytes.size());
            if (wrote < 0 && errno == EINTR) continue;
            if (wrote < 0) return cannot_write(path_, errno);
            bytes.remove_prefix(static_cast<std::size_t>(wrote));
        }
        return Done{};
    }
    Result<Done> sync() override {
        // What cannot be synchronised (a pipe) is no disk that could lose it.
        if (::fsync(file_) != 0 && errno != EINVAL && errno != ENOTSUP) return cannot_write(path_, errno);
        return Done{};
    }

  private:
    int file_;
    std::string path_;
};

}  // namespace

Result<std::unique_ptr<ByteSink>> new_file(const std::string& path) {
    const int file = ::open(path.c_str(), O_WRONLY | O_CREAT | O_TRUNC | O_CLOEXEC, 0666);
    if (file < 0) return cannot_write(path, errno);
    return std::unique_ptr<ByteSink>(std::make_unique<File>(file, path));
}

Result<std::unique_ptr<ByteSink>> go_on_with_file(const std::string& path, std::uint64_t keep) {
    const int file = ::open(path.c_str(), O_WRONLY | O_CLOEXEC);
    if (file < 0) return cannot_write(path, errno);
    auto sink = std::make_unique<File>(file, path);
    if (::ftruncate(file, static_cast<off_t>(keep)) != 0 || ::lseek(file, 0, SEEK_END) < 0)
        return cannot_write(path, errno);
    return std::unique_ptr<ByteSink>(std::move(sink));
}

}  // namespace ebbtide::recording
