#include "recording/whole_file.hpp"

#include <fmt/format.h>
#include <sys/mman.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cerrno>
#include <cstring>
#include <utility>
#include <vector>

namespace ebbtide::recording {

namespace {

constexpr std::size_t piece_bytes = std::size_t{1} << 18;

Error cannot_hold(const std::string& name) {
    return {Fault::unreadable, fmt::format("cannot be held in memory: {}", std::strerror(errno)), name,
            "Save it to a file first"};
}

bool write_all(int file, const char* from, std::size_t size) {
    while (size > 0) {
        const ssize_t wrote = ::write(file, from, size);
        if (wrote < 0 && errno == EINTR) continue;
        if (wrote <= 0) return false;
        from += wrote;
        size -= static_cast<std::size_t>(wrote);
    }
    return true;
}

}  // namespace

WholeFile::WholeFile(WholeFile&& other) noexcept
    : bytes_(std::move(other.bytes_)),
      descriptor_(std::exchange(other.descriptor_, -1)),
      held_(std::exchange(other.held_, false)),
      size_(other.size_) {}

WholeFile::~WholeFile() {
    if (held_) ::close(descriptor_);
}

Result<WholeFile> WholeFile::of(Bytes bytes, std::uint64_t most) {
    WholeFile file(std::move(bytes));
    file.descriptor_ = file.bytes_.descriptor();
    if (file.descriptor_ >= 0) {
        struct stat about {};
        if (::fstat(file.descriptor_, &about) != 0) return cannot_hold(file.name());
        file.size_ = static_cast<std::uint64_t>(about.st_size);
        return file;
    }
    // A file without a name: a child process can be handed its descriptor, which it cannot be handed memory.
    file.descriptor_ = ::memfd_create("recording", MFD_CLOEXEC);
    if (file.descriptor_ < 0) return cannot_hold(file.name());
    file.held_ = true;
    std::vector<char> piece(piece_bytes);
    for (;;) {
        const Result<std::size_t> got = file.bytes_.read_raw(piece.data(), piece.size());
        if (!got) return got.error();
        if (*got == 0) return file;
        file.size_ += *got;
        if (file.size_ > most)
            return Error{Fault::bad_input,
                         fmt::format("sends more than {} bytes; a file of this kind is read by position, and "
                                     "no more is held in memory",
                                     most),
                         file.name(), "Save it to a file first"};
        if (!write_all(file.descriptor_, piece.data(), *got)) return cannot_hold(file.name());
    }
}

std::size_t WholeFile::read(std::uint64_t at, char* into, std::size_t room) const {
    std::size_t size = 0;
    while (size < room) {
        const ssize_t got = ::pread(descriptor_, into + size, room - size, static_cast<off_t>(at + size));
        if (got < 0 && errno == EINTR) continue;
        if (got <= 0) break;
        size += static_cast<std::size_t>(got);
    }
    return size;
}

Result<Done> WholeFile::hash_all() {
    if (!bytes_.hashes()) return Done{};
    std::vector<char> piece(piece_bytes);
    for (;;) {
        const Result<std::size_t> got = bytes_.read_raw(piece.data(), piece.size());
        if (!got) return got.error();
        if (*got == 0) return Done{};
    }
}

}  // namespace ebbtide::recording
