#pragma once
// Which records of a container were taken, by their running numbers: none twice, and what is missing is said.

#include <cstdint>
#include <string>
#include <utility>
#include <vector>

namespace ebbtide::recording::container {

/// "1,234,567", the same in every locale.
[[nodiscard]] std::string grouped(std::uint64_t number);
/// "bytes 1,234 to 5,678", both included, of the bytes [from, end); "byte 1,234" for one.
[[nodiscard]] std::string bytes_text(std::uint64_t from, std::uint64_t end);

/// Memory: bounded; when there are more than a thousand separate gaps, the oldest are given up.
class RecordOrder {
  public:
    enum class Place {
        next,     ///< it follows the one before
        breaks,   ///< it does not: records between may be lost, or come later
        repeated  ///< it was taken before
    };
    struct Verdict {
        Place place = Place::next;
        std::string text;  ///< what is wrong, for people; empty for the other two
    };
    /// Takes record `number`, which begins at byte `begin`, unless it was taken before.
    [[nodiscard]] Verdict take(std::uint64_t number, std::uint64_t begin);
    /// One more than the highest taken.
    [[nodiscard]] std::uint64_t next_number() const { return expected_; }

  private:
    std::uint64_t expected_ = 0;
    std::uint64_t last_ = ~std::uint64_t{0};  // the record before; one more than this is 0
    std::vector<std::pair<std::uint64_t, std::uint64_t>> missing_;  // first, last
};

}  // namespace ebbtide::recording::container
