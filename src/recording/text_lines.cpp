#include "recording/text_lines.hpp"

#include <algorithm>
#include <cstring>

#include <fmt/format.h>

#include "recording/decimal.hpp"

namespace ebbtide::recording {

namespace {

constexpr std::size_t portion = std::size_t{256} << 10;
constexpr std::size_t head_most = std::size_t{2} << 20;
constexpr std::ptrdiff_t head_lines = 8;  // so many at least are looked at, when they fit

}  // namespace

TextLines::TextLines(Bytes bytes) : bytes_(std::move(bytes)) {}

Error TextLines::too_long() const {
    return {Fault::bad_input, "a line is longer than 1 MiB", fmt::format("{} line {}", bytes_.name(), line_),
            "Check that this is a recording of lines of numbers"};
}

// Appends up to `room` bytes; 0 more than before means the end.
std::optional<Error> TextLines::fill(std::size_t room) {
    if (buffer_.size() < filled_ + room + decimal_padding) buffer_.resize(filled_ + room + decimal_padding);
    const Result<std::size_t> got = bytes_.read(buffer_.data() + filled_, room);
    if (!got) return got.error();
    at_end_ = *got == 0;
    filled_ += *got;
    std::memset(buffer_.data() + filled_, 0, decimal_padding);
    return std::nullopt;
}

bool TextLines::looked_enough() const {
    if (at_end_) return true;
    if (filled_ < portion) return false;
    const auto text = head();
    return std::max(std::ranges::count(text, '\n'), std::ranges::count(text, '\r')) >= head_lines ||
           filled_ >= head_most;
}

std::optional<Error> TextLines::look() {
    while (!looked_enough())
        if (auto error = fill(portion)) return error;
    if (!at_end_ && head().find_first_of("\r\n") == std::string_view::npos) return too_long();
    return std::nullopt;
}

Result<std::size_t> TextLines::look_at(std::size_t lines) {
    for (;;) {
        // Of LF and CR the one that ends lines is that which comes as often, and last of a pair.
        const char line_end = head().find('\n') != std::string_view::npos ? '\n' : '\r';
        std::size_t bytes = 0;
        for (std::size_t line = 0; line < lines; ++line) {
            const std::size_t end = head().find(line_end, bytes);
            if (end == std::string_view::npos) {
                bytes = 0;
                break;
            }
            bytes = end + 1;
        }
        if (bytes > 0) return bytes;
        if (looked_enough()) return filled_;
        if (auto error = fill(portion)) return *error;
    }
}

void TextLines::start(std::size_t at, std::uint64_t line, char line_end) {
    begin_ = at;
    line_ = line;
    line_end_ = line_end;
    find_lines();
}

void TextLines::find_lines() {
    const std::string_view rest = tail();
    const std::size_t last = rest.rfind(line_end_);
    lines_end_ = last == std::string_view::npos ? begin_ : begin_ + last + 1;
}

Result<bool> TextLines::refill() {
    // Only called when begin() has come to end(): what is left is the beginning of a line.
    for (;;) {
        if (at_end_) return false;
        std::memmove(buffer_.data(), buffer_.data() + begin_, filled_ - begin_);
        filled_ -= begin_;
        begin_ = lines_end_ = 0;
        if (filled_ > longest_line_bytes) {
            // A recorder that lost power may leave zeros in place of the last lines, as many as it had
            // reserved.
            if (buffer_[0] != '\0' && !zeros_) return too_long();
            zeros_ = true;
            filled_ = 0;
        }
        if (auto error = fill(portion)) return *error;
        find_lines();
        if (lines_end_ > begin_) return true;
    }
}

}  // namespace ebbtide::recording
