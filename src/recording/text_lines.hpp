#pragma once
// Lines of a text of any size through one buffer of bounded size.

#include <cstdint>
#include <optional>
#include <string_view>
#include <vector>

#include "recording/bytes.hpp"

namespace ebbtide::recording {

inline constexpr std::size_t longest_line_bytes = std::size_t{1} << 20;

/// A window over the text: whole lines lie between begin() and end(), each closed by the line end, and
/// readable zero bytes follow. Reading moves begin(); refill() brings the next lines.
class TextLines {
  public:
    explicit TextLines(Bytes bytes);

    /// Fills the window for a first look: 256 KiB, more when lines are long, less at the end of the text.
    /// Errors: the file stops answering; a line longer than 1 MiB.
    [[nodiscard]] std::optional<Error> look();
    /// The same for a live stream: `lines` whole ones at least, or as far as look() would go. Can be asked
    /// again for more. The bytes of so many lines; of all that is there when there are fewer.
    [[nodiscard]] Result<std::size_t> look_at(std::size_t lines);
    /// What was found; the last line may be cut unless complete().
    [[nodiscard]] std::string_view head() const { return {buffer_.data(), filled_}; }
    /// No more than this is looked at before the layout must be known.
    [[nodiscard]] bool looked_enough() const;
    [[nodiscard]] bool complete() const { return at_end_; }

    void start(std::size_t at, std::uint64_t line, char line_end);

    [[nodiscard]] const char* begin() const { return buffer_.data() + begin_; }
    [[nodiscard]] const char* end() const { return buffer_.data() + lines_end_; }
    [[nodiscard]] std::uint64_t line() const { return line_; }
    /// Goes on behind one line or several; `next` points behind the last one's line end.
    void advance(const char* next, std::uint64_t lines = 1) {
        begin_ = static_cast<std::size_t>(next - buffer_.data());
        line_ += lines;
    }
    /// Brings more lines; false when there are none. Errors as for look().
    [[nodiscard]] Result<bool> refill();
    /// What stands behind the last line end when refill() has returned false.
    [[nodiscard]] std::string_view tail() const { return {begin(), filled_ - begin_}; }
    [[nodiscard]] bool tail_is_zeros() const { return zeros_; }

    [[nodiscard]] Bytes& bytes() { return bytes_; }
    [[nodiscard]] const Bytes& bytes() const { return bytes_; }

  private:
    [[nodiscard]] std::optional<Error> fill(std::size_t room);
    void find_lines();
    [[nodiscard]] Error too_long() const;

    Bytes bytes_;
    std::vector<char> buffer_;
    std::size_t begin_ = 0, lines_end_ = 0, filled_ = 0;
    std::uint64_t line_ = 1;
    char line_end_ = '\n';
    bool at_end_ = false;
    bool zeros_ = false;
};

}  // namespace ebbtide::recording
