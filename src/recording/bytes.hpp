#pragma once
// Bytes of a recording, from a file, a pipe, memory or a live stream, hashed as they pass and handed on as
// UTF-8 or Latin-1.

#include <cstddef>
#include <cstdint>
#include <memory>
#include <optional>
#include <string>
#include <string_view>

#include "basis/result.hpp"
#include "basis/sha256.hpp"
#include "transport/byte_stream.hpp"

namespace ebbtide::recording {

enum class Encoding { bytes, utf8_with_mark, utf16_le, utf16_be };

/// A stream of bytes that is read once, from its beginning. One thread.
class Bytes {
  public:
    /// Opens a file, a named pipe, or standard input for "-". Errors: missing, a directory, not permitted.
    static Result<Bytes> open(const std::string& path, bool hash);
    static Bytes of(std::string held, std::string name, bool hash);
    /// What a stream brings, as it comes. Readers then look at no more of it than they need to begin.
    static Bytes of(std::unique_ptr<transport::ByteStream> stream, bool hash);
    Bytes(Bytes&& other) noexcept;
    Bytes& operator=(Bytes&&) = delete;
    ~Bytes();

    /// Up to `room` (at least 64) bytes of text, UTF-16 turned into UTF-8 and a byte-order mark left out; 0
    /// at the end. Waits for a pipe. Errors: the file stops answering.
    Result<std::size_t> read(char* into, std::size_t room);

    /// The first bytes, up to 1,024 (64 of a live stream), as they stand in the file; whatever reads on gets
    /// them again. A file's kind is told by them.
    Result<std::string_view> peek();
    /// For kinds that are no text: up to `room` bytes as they stand in the file. Not to be mixed with read().
    Result<std::size_t> read_raw(char* into, std::size_t room) { return raw(into, room); }
    /// Of a regular file opened at its beginning, whose bytes can be read by position too; else -1.
    [[nodiscard]] int descriptor() const { return by_position_ ? file_ : -1; }

    /// Known after the first read().
    [[nodiscard]] Encoding encoding() const { return encoding_; }
    [[nodiscard]] const std::string& name() const { return name_; }
    /// Bytes taken from the file so far.
    [[nodiscard]] std::uint64_t taken() const { return taken_; }
    [[nodiscard]] bool live() const { return stream_ != nullptr; }
    /// Bytes that a live stream has lost, up to those taken.
    [[nodiscard]] std::uint64_t lost() const { return lost_; }
    [[nodiscard]] bool hashes() const { return hash_.has_value(); }
    /// SHA-256 of them; empty when hashing is off. Ends the hash.
    [[nodiscard]] std::string sha256();

  private:
    Bytes(std::string name, bool hash);
    Result<std::size_t> take(char* into, std::size_t room);
    Result<std::size_t> raw(char* into, std::size_t room);
    std::optional<Error> recognise();
    std::size_t as_utf8(const char* from, std::size_t count, char* into);

    std::string name_;
    int file_ = -1;
    bool close_ = false;
    bool by_position_ = false;
    std::string held_;  // the bytes of of()
    std::size_t held_used_ = 0;
    std::unique_ptr<transport::ByteStream> stream_;
    std::uint64_t lost_ = 0;
    std::string ahead_;  // what recognise() looked at: counted and hashed, not yet handed out
    std::size_t ahead_used_ = 0;
    std::uint64_t taken_ = 0;
    std::optional<Sha256> hash_;
    std::string digest_;
    bool recognised_ = false;
    Encoding encoding_ = Encoding::bytes;
    int odd_byte_ = -1;  // UTF-16: half a unit from the read before
    std::uint32_t high_surrogate_ = 0;
};

/// Appends the code point as UTF-8.
void append_utf8(std::uint32_t code_point, std::string& out);
/// The text as UTF-8: unchanged when it is valid UTF-8, else each byte taken as Latin-1.
[[nodiscard]] std::string readable(std::string_view text);
[[nodiscard]] bool is_utf8(std::string_view text);

}  // namespace ebbtide::recording
