#include "recording/bytes.hpp"

#include <fcntl.h>
#include <sys/stat.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <cerrno>
#include <cstring>
#include <utility>

namespace ebbtide::recording {

namespace {

constexpr std::size_t head_bytes = 1024;  // enough to tell UTF-16 without a mark, and kinds of files
// Of a live stream, which may bring some hundred bytes a second.
constexpr std::size_t live_head_bytes = 64;
constexpr double long_s = 3600;  // a stream that is quiet is asked again

Error unreadable(const std::string& name, int cause) {
    return {Fault::unreadable, std::string("cannot be read: ") + std::strerror(cause), name,
            "Check the path, that it is a file and that you may read it"};
}

// UTF-16 of mostly Latin text has a NUL in every other byte.
std::optional<Encoding> alternating_nuls(std::string_view head) {
    if (head.size() < 4) return std::nullopt;
    std::size_t even = 0, odd = 0;
    for (std::size_t i = 0; i < head.size(); ++i) (i % 2 == 0 ? even : odd) += head[i] == '\0';
    const std::size_t units = head.size() / 2;
    if (even == 0 && odd * 10 >= units * 9) return Encoding::utf16_le;
    if (odd == 0 && even * 10 >= units * 9) return Encoding::utf16_be;
    return std::nullopt;
}

}  // namespace

Bytes::Bytes(std::string name, bool hash) : name_(std::move(name)) {
    if (hash) hash_.emplace();
}

Bytes::Bytes(Bytes&& other) noexcept
    : name_(std::move(other.name_)),
      file_(std::exchange(other.file_, -1)),
      close_(std::exchange(other.close_, false)),
      by_position_(other.by_position_),
      held_(std::move(other.held_)),
      held_used_(other.held_used_),
      stream_(std::move(other.stream_)),
      lost_(other.lost_),
      ahead_(std::move(other.ahead_)),
      ahead_used_(std::exchange(other.ahead_used_, 0)),
      taken_(other.taken_),
      hash_(std::move(other.hash_)),
      digest_(std::move(other.digest_)),
      recognised_(other.recognised_),
      encoding_(other.encoding_),
      odd_byte_(other.odd_byte_),
      high_surrogate_(other.high_surrogate_) {}

Bytes::~Bytes() {
    if (close_) ::close(file_);
}

Result<Bytes> Bytes::open(const std::string& path, bool hash) {
    Bytes bytes(path == "-" ? "standard input" : path, hash);
    struct stat about {};
    if (path == "-") {
        bytes.file_ = STDIN_FILENO;
        bytes.by_position_ = ::fstat(STDIN_FILENO, &about) == 0 && S_ISREG(about.st_mode) &&
                             ::lseek(STDIN_FILENO, 0, SEEK_CUR) == 0;
        return bytes;
    }
    bytes.file_ = ::open(path.c_str(), O_RDONLY | O_CLOEXEC);
    if (bytes.file_ < 0) return unreadable(path, errno);
    bytes.close_ = true;
    if (::fstat(bytes.file_, &about) != 0) return unreadable(path, errno);
    if (S_ISDIR(about.st_mode)) return unreadable(path, EISDIR);
    bytes.by_position_ = S_ISREG(about.st_mode);
    return bytes;
}

Bytes Bytes::of(std::string held, std::string name, bool hash) {
    Bytes bytes(std::move(name), hash);
    bytes.held_ = std::move(held);
    return bytes;
}

Bytes Bytes::of(std::unique_ptr<transport::ByteStream> stream, bool hash) {
    Bytes bytes(stream->name(), hash);
    bytes.stream_ = std::move(stream);
    return bytes;
}

std::string Bytes::sha256() {
    if (hash_ && digest_.empty()) digest_ = hash_->hex();
    return digest_;
}

Result<std::size_t> Bytes::take(char* into, std::size_t room) {
    std::size_t count = 0;
    if (held_used_ < held_.size()) {
        count = std::min(room, held_.size() - held_used_);
        std::memcpy(into, held_.data() + held_used_, count);
        held_used_ += count;
    } else if (stream_) {
        using State = transport::Arrival::State;
        for (State state = State::quiet; state == State::quiet;) {
            const auto arrival = stream_->read(into, room, long_s);
            if (!arrival) return arrival.error();
            state = arrival->state;
            count = arrival->count;
            lost_ += arrival->lost;
        }
    } else if (file_ >= 0) {
        ssize_t got = 0;
        do got = ::read(file_, into, room);
        while (got < 0 && errno == EINTR);
        if (got < 0) return unreadable(name_, errno);
        count = static_cast<std::size_t>(got);
    }
    taken_ += count;
    if (hash_) hash_->add(std::string_view(into, count));
    return count;
}

Result<std::string_view> Bytes::peek() {
    if (!recognised_)
        if (auto error = recognise()) return *error;
    return std::string_view(ahead_);
}

// Looks at the first bytes, which raw() then hands out, and settles the encoding.
std::optional<Error> Bytes::recognise() {
    recognised_ = true;
    ahead_.resize(live() ? live_head_bytes : head_bytes);
    std::size_t size = 0;
    while (size < ahead_.size()) {
        const Result<std::size_t> got = take(ahead_.data() + size, ahead_.size() - size);
        if (!got) return got.error();
        if (*got == 0) break;
        size += *got;
    }
    ahead_.resize(size);
    if (ahead_.starts_with("\xEF\xBB\xBF")) {
        encoding_ = Encoding::utf8_with_mark;
        ahead_used_ = 3;
    } else if (ahead_.starts_with("\xFF\xFE")) {
        encoding_ = Encoding::utf16_le;
        ahead_used_ = 2;
    } else if (ahead_.starts_with("\xFE\xFF")) {
        encoding_ = Encoding::utf16_be;
        ahead_used_ = 2;
    } else if (const auto guess = alternating_nuls(ahead_)) {
        encoding_ = *guess;
    }
    return std::nullopt;
}

Result<std::size_t> Bytes::raw(char* into, std::size_t room) {
    if (ahead_used_ == ahead_.size()) return take(into, room);
    const std::size_t count = std::min(room, ahead_.size() - ahead_used_);
    std::memcpy(into, ahead_.data() + ahead_used_, count);
    ahead_used_ += count;
    return count;
}

Result<std::size_t> Bytes::read(char* into, std::size_t room) {
    if (!recognised_)
        if (auto error = recognise()) return *error;
    if (encoding_ != Encoding::utf16_le && encoding_ != Encoding::utf16_be) return raw(into, room);
    std::array<char, 16384> units;
    for (;;) {
        // Two bytes become three at most, and half a unit may be left over from before.
        const Result<std::size_t> got = raw(units.data(), std::min(units.size(), room / 2 - 4));
        if (!got || *got == 0) return got;
        const std::size_t made = as_utf8(units.data(), *got, into);
        if (made > 0) return made;
    }
}

std::size_t Bytes::as_utf8(const char* from, std::size_t count, char* into) {
    std::string out;
    for (std::size_t i = 0; i < count; ++i) {
        const int byte = static_cast<unsigned char>(from[i]);
        if (odd_byte_ < 0) {
            odd_byte_ = byte;
            continue;
        }
        const auto unit = static_cast<std::uint32_t>(encoding_ == Encoding::utf16_le ? byte << 8 | odd_byte_
                                                                                     : odd_byte_ << 8 | byte);
        odd_byte_ = -1;
        if (unit >= 0xD800 && unit < 0xDC00) {
            high_surrogate_ = unit;
        } else if (unit >= 0xDC00 && unit < 0xE000) {
            append_utf8(high_surrogate_ != 0 ? 0x10000 + ((high_surrogate_ - 0xD800) << 10) + (unit - 0xDC00)
                                             : 0xFFFD,
                        out);
            high_surrogate_ = 0;
        } else {
            append_utf8(unit, out);
        }
    }
    std::memcpy(into, out.data(), out.size());
    return out.size();
}

void append_utf8(std::uint32_t code_point, std::string& out) {
    const auto put = [&out](std::uint32_t byte) { out += static_cast<char>(byte); };
    if (code_point < 0x80) {
        put(code_point);
    } else if (code_point < 0x800) {
        put(0xC0 | code_point >> 6);
        put(0x80 | (code_point & 0x3F));
    } else if (code_point < 0x10000) {
        put(0xE0 | code_point >> 12);
        put(0x80 | (code_point >> 6 & 0x3F));
        put(0x80 | (code_point & 0x3F));
    } else {
        put(0xF0 | code_point >> 18);
        put(0x80 | (code_point >> 12 & 0x3F));
        put(0x80 | (code_point >> 6 & 0x3F));
        put(0x80 | (code_point & 0x3F));
    }
}

bool is_utf8(std::string_view text) {
    for (std::size_t i = 0; i < text.size();) {
        const auto lead = static_cast<unsigned char>(text[i]);
        const std::size_t length = lead < 0x80                   ? 1
                                   : lead >= 0xC2 && lead < 0xE0 ? 2
                                   : lead >= 0xE0 && lead < 0xF0 ? 3
                                   : lead >= 0xF0 && lead < 0xF5 ? 4
                                                                 : 0;
        if (length == 0 || i + length > text.size()) return false;
        for (std::size_t k = 1; k < length; ++k)
            if ((static_cast<unsigned char>(text[i + k]) & 0xC0) != 0x80) return false;
        i += length;
    }
    return true;
}

std::string readable(std::string_view text) {
    std::string out;
    if (is_utf8(text)) {
        out = text;
    } else {
        for (const char c : text) append_utf8(static_cast<unsigned char>(c), out);
    }
    // What people read holds no control bytes.
    for (char& c : out)
        if (static_cast<unsigned char>(c) < 0x20 || c == 0x7F) c = ' ';
    return out;
}

}  // namespace ebbtide::recording
