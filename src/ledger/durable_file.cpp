#include "ledger/durable_file.hpp"

#include <fcntl.h>
#include <fmt/format.h>
#include <sys/stat.h>
#include <unistd.h>

#include <algorithm>
#include <cerrno>
#include <cstring>
#include <filesystem>
#include <utility>
#include <vector>

namespace ebbtide::ledger {
namespace {

constexpr std::size_t written_at_once = 1 << 18, read_at_once = 1 << 18;
constexpr std::size_t longest_line = std::size_t{1} << 30;

Error cannot_be_read(const std::string& path) {
    return {Fault::unreadable, "cannot be read", path, "Check the name and the permission to read it"};
}

/// A pipe would block.
bool is_regular(const std::string& path) {
    struct stat about {};
    return ::stat(path.c_str(), &about) == 0 && S_ISREG(about.st_mode);
}

Error cannot_be_written(const std::string& path, int fault) {
    return {Fault::unreadable, fmt::format("cannot be written: {}", std::strerror(fault)), path,
            "Check that the folder is there, writable and not full"};
}

class Descriptor {
  public:
    Descriptor(const std::string& path, int flags) : number_(::open(path.c_str(), flags | O_CLOEXEC, 0666)) {}
    ~Descriptor() {
        if (number_ >= 0) ::close(number_);
    }
    Descriptor(const Descriptor&) = delete;
    Descriptor& operator=(const Descriptor&) = delete;
    [[nodiscard]] int number() const { return number_; }

  private:
    int number_;
};

/// A name is kept by the directory, which has to reach the disk too.
void sync_folder_of(const std::string& path) {
    const std::filesystem::path folder = std::filesystem::path(path).parent_path();
    const Descriptor directory(folder.empty() ? "." : folder.string(), O_RDONLY | O_DIRECTORY);
    if (directory.number() >= 0) ::fsync(directory.number());
}

}  // namespace

Result<Done> must_be_new(const std::string& path) {
    std::error_code none;
    if (path.empty() || std::filesystem::exists(std::filesystem::symlink_status(path, none)))
        return Error{Fault::bad_input, "is there already", path,
                     "Name a new one: nothing that is kept is overwritten"};
    return Done{};
}

Result<NewFile> NewFile::create(const std::string& path) {
    const int file = ::open(path.c_str(), O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, 0666);
    if (file < 0) return cannot_be_written(path, errno);
    return NewFile(path, file);
}

NewFile::NewFile(NewFile&& other) noexcept
    : path_(std::move(other.path_)), waiting_(std::move(other.waiting_)), file_(other.file_) {
    other.file_ = -1;
}

NewFile::~NewFile() {
    if (file_ >= 0) ::close(file_);
}

Result<Done> NewFile::write(std::string_view bytes) {
    while (!bytes.empty()) {
        const ssize_t written = ::write(file_, bytes.data(), bytes.size());
        if (written < 0 && errno == EINTR) continue;
        if (written <= 0) return cannot_be_written(path_, errno);
        bytes.remove_prefix(static_cast<std::size_t>(written));
    }
    return Done{};
}

Result<Done> NewFile::add(std::string_view bytes) {
    waiting_ += bytes;
    if (waiting_.size() < written_at_once) return Done{};
    auto written = write(waiting_);
    waiting_.clear();
    return written;
}

Result<Done> NewFile::finish() {
    if (auto written = write(waiting_); !written) return written;
    waiting_.clear();
    if (::fsync(file_) != 0) return cannot_be_written(path_, errno);
    sync_folder_of(path_);
    return Done{};
}

Result<LineFile> LineFile::open(const std::string& path) {
    if (!is_regular(path)) return cannot_be_read(path);
    const int file = ::open(path.c_str(), O_RDONLY | O_CLOEXEC);
    if (file < 0) return cannot_be_read(path);
    return LineFile(path, file);
}

LineFile::LineFile(LineFile&& other) noexcept
    : path_(std::move(other.path_)), waiting_(std::move(other.waiting_)), at_(other.at_), file_(other.file_) {
    other.file_ = -1;
}

LineFile::~LineFile() {
    if (file_ >= 0) ::close(file_);
}

Result<std::optional<std::string>> LineFile::next() {
    for (std::size_t looked = at_;;) {
        if (const std::size_t end = waiting_.find('\n', looked); end != std::string::npos) {
            std::string line = waiting_.substr(at_, end - at_);
            at_ = end + 1;
            return std::optional(std::move(line));
        }
        waiting_.erase(0, std::exchange(at_, 0));
        looked = waiting_.size();
        if (looked > longest_line)
            return Error{Fault::bad_input, "holds a line of more than 1 GiB", path_,
                         "Check that it is the file you mean"};
        waiting_.resize(looked + read_at_once);
        ssize_t got = -1;
        do got = ::read(file_, waiting_.data() + looked, read_at_once);
        while (got < 0 && errno == EINTR);
        waiting_.resize(looked + static_cast<std::size_t>(std::max<ssize_t>(got, 0)));
        if (got < 0) return cannot_be_read(path_);
        if (got > 0) continue;
        if (waiting_.empty()) return std::optional<std::string>();
        return std::optional(std::exchange(waiting_, {}));  // the last one without its line feed
    }
}

Result<Done> write_new_file(const std::string& path, std::string_view bytes) {
    auto file = NewFile::create(path);
    if (!file) return file.error();
    if (auto added = file->add(bytes); !added) return added;
    return file->finish();
}

Result<Done> give_name(const std::string& part, const std::string& path) {
    auto is_new = must_be_new(path);
    if (!is_new) return is_new;
    std::error_code fault;
    std::filesystem::rename(part, path, fault);
    if (fault) return cannot_be_written(path, fault.value());
    sync_folder_of(path);
    return Done{};
}

Result<Done> each_piece(const std::string& path, const std::function<void(std::string_view)>& piece) {
    const Error cannot = cannot_be_read(path);
    if (!is_regular(path)) return cannot;
    const Descriptor file(path, O_RDONLY);
    if (file.number() < 0) return cannot;
    std::vector<char> buffer(read_at_once);
    for (;;) {
        const ssize_t got = ::read(file.number(), buffer.data(), buffer.size());
        if (got < 0 && errno == EINTR) continue;
        if (got < 0) return cannot;
        if (got == 0) return Done{};
        piece({buffer.data(), static_cast<std::size_t>(got)});
    }
}

Result<std::string> read_file(const std::string& path, std::uint64_t at_most) {
    std::string bytes;
    bool longer = false;
    const auto read = each_piece(path, [&](std::string_view piece) {
        longer = longer || bytes.size() + piece.size() > at_most;
        if (!longer) bytes += piece;
    });
    if (!read) return read.error();
    if (longer)
        return Error{Fault::bad_input, fmt::format("more than {} bytes", at_most), path,
                     "Check that it is the file you mean"};
    return bytes;
}

}  // namespace ebbtide::ledger
