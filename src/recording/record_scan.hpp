#pragma once
// Finds the whole records in a stream of bytes and passes over what is none.

#include <cstdint>
#include <functional>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "basis/result.hpp"

namespace ebbtide::recording::container {

/// Memory: the longest record (16 MiB) and one read. One thread.
class RecordScan {
  public:
    /// Up to so many bytes; 0 at the end.
    using Feed = std::function<Result<std::size_t>(char*, std::size_t)>;

    /// A record whose checksum is good. `payload` is valid until the next call.
    struct Found {
        std::uint32_t type = 0;
        std::uint64_t number = 0;
        std::string_view payload;
        std::uint64_t begin = 0, end = 0;  ///< its bytes, counted from the beginning of the file
        std::uint64_t skipped_from =
            0;  ///< bytes from here to `begin` are no record; `begin` when there are none
    };

    /// `at`: bytes of the file that were taken before.
    RecordScan(Feed feed, std::uint64_t at) : feed_(std::move(feed)), base_(at), whole_until_(at) {}

    /// The next whole record; nothing at the end. Waits as long as the feed does. Errors: the feed's.
    [[nodiscard]] Result<std::optional<Found>> next();
    /// End of the last whole record: what lies beyond at the end of the file is no record.
    [[nodiscard]] std::uint64_t whole_until() const { return whole_until_; }
    /// Bytes taken so far, those taken before included.
    [[nodiscard]] std::uint64_t taken() const { return base_ + buffer_.size(); }

  private:
    [[nodiscard]] Result<bool> fill(std::size_t& keep_from);
    [[nodiscard]] Result<bool> reach(std::size_t& from, std::size_t count);

    Feed feed_;
    std::vector<char> room_ = std::vector<char>(std::size_t{256} << 10);  ///< for one read
    std::string buffer_;
    std::uint64_t base_ = 0;  ///< place in the file of the buffer's first byte
    std::uint64_t whole_until_ = 0;
    std::size_t at_ = 0;  ///< where in the buffer to look next
};

}  // namespace ebbtide::recording::container
