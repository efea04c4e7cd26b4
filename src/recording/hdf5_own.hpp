#pragma once
// HDF5 files of our own layout, ebbtide.hdf5/1: names that the reader and the writer share, and the reader.

#include <fmt/format.h>

#include <cstdint>
#include <memory>
#include <string>
#include <string_view>

#include "recording/hdf5_access.hpp"
#include "recording/source.hpp"

namespace ebbtide::recording::hdf5 {

inline constexpr std::string_view own_layout = "ebbtide.hdf5/", own_schema = "ebbtide.hdf5/1";

/// More is not written, and not read.
inline constexpr std::size_t most_metadata = 10'000, most_notices = 100'000;

[[nodiscard]] inline std::string segment_name(std::uint64_t number) {
    return fmt::format("{:06}", number);
}
[[nodiscard]] inline std::string channel_name(std::size_t index) {
    return fmt::format("channel_{}", index + 1);
}

/// Evenly spaced times: sample i is at (first + i) * numerator / denominator, in doubles, in this order.
struct EvenTime {
    std::int64_t first = 0, numerator = 1, denominator = 1;
    [[nodiscard]] double at(std::uint64_t i) const {
        return static_cast<double>(first + static_cast<std::int64_t>(i)) * static_cast<double>(numerator) /
               static_cast<double>(denominator);
    }
};

/// A row of the table of notices, as it lies in memory while the library reads or writes it. Texts have a
/// fixed length: those of any length lie in a part of the file that nothing sums.
struct NoticeRow {
    std::uint64_t line;
    std::int64_t column;
    std::uint64_t count;
    double time_s;
    char kind[32];
    char text[1024];
};
/// The type of a text of fixed length.
[[nodiscard]] Handle text_type(std::size_t bytes);
/// The type of that row.
[[nodiscard]] Handle notice_type();

/// Errors: something is missing, of another type, or damaged (says what and where in the file).
[[nodiscard]] Result<std::unique_ptr<Source>> open_own(Handle file, const std::string& name,
                                                       const ReadOptions& options);

}  // namespace ebbtide::recording::hdf5
