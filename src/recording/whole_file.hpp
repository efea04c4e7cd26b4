#pragma once
// A file that is read by position, not from front to back: sound and HDF5 files.

#include <cstddef>
#include <cstdint>
#include <string>

#include "recording/bytes.hpp"

namespace ebbtide::recording {

/// The bytes behind a descriptor that can be read by position: the file itself, or, where they come from a
/// pipe or from memory, a copy in memory. One thread.
class WholeFile {
  public:
    static constexpr std::uint64_t most_held = std::uint64_t{1} << 30;

    /// Errors: the file stops answering; a pipe sends more than `most` bytes.
    static Result<WholeFile> of(Bytes bytes, std::uint64_t most = most_held);
    WholeFile(WholeFile&& other) noexcept;
    WholeFile& operator=(WholeFile&&) = delete;
    ~WholeFile();

    [[nodiscard]] const std::string& name() const { return bytes_.name(); }
    [[nodiscard]] int descriptor() const { return descriptor_; }
    /// When it was opened, bytes.
    [[nodiscard]] std::uint64_t size() const { return size_; }
    /// Up to `room` bytes from `at` on; fewer at the end, or where the file does not answer.
    std::size_t read(std::uint64_t at, char* into, std::size_t room) const;

    /// Reads the file from its beginning to its end, so that sha256() is of all its bytes; nothing to do when
    /// no hash is wanted. Error: the file stops answering.
    [[nodiscard]] Result<Done> hash_all();
    [[nodiscard]] std::string sha256() { return bytes_.sha256(); }

  private:
    explicit WholeFile(Bytes bytes) : bytes_(std::move(bytes)) {}

    Bytes bytes_;
    int descriptor_ = -1;
    bool held_ = false;
    std::uint64_t size_ = 0;
};

}  // namespace ebbtide::recording
