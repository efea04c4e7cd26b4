#pragma once
// Lines whose every cell is a plain number, one after another: reading a large recording spends its time
// here.

#include <cstdint>
#include <string>
#include <string_view>
#include <vector>

#include "lanes/alike_decimals.hpp"
#include "recording/channels.hpp"
#include "recording/layout.hpp"
#include "recording/plain_line.hpp"
#include "recording/source.hpp"
#include "recording/text_lines.hpp"
#include "recording/time_axis.hpp"

namespace ebbtide::recording {

/// Learns how the numbers of each column are written and reads lines that go on so. Whatever is not plain is
/// left to the caller, line by line.
class PlainRows {
  public:
    /// `columns` holds what to do with each column, up to the last that is used; at least one.
    PlainRows(const Layout& layout, std::vector<ColumnStep> columns,
              const std::vector<ChannelColumn>& channels);

    [[nodiscard]] const std::vector<ColumnStep>& columns() const { return columns_; }

    /// Reads one line at `p` into `row` (one number a column) and moves `p` behind it; false when it is not
    /// plain.
    bool read_line(const char*& p, double* row) { return read_plain_line(p, row, line()); }

    /// Takes plain lines from `lines` and adds their samples to `block` until one is not plain, its time is
    /// not simply later, or `most` samples are reached. `axis`, of numbers or of sample indices, has started;
    /// `index` is the next sample's. Returns how many lines were taken.
    std::size_t read(TextLines& lines, AxisFollower& axis, std::uint64_t index, std::size_t most,
                     Block& block);

  private:
    [[nodiscard]] PlainLine line() {
        return {delimiter_, sign_, line_end_, columns_follow_, columns_.data(), columns_.size() - 1};
    }
    [[nodiscard]] bool every_shape_known() const;
    std::size_t read_ahead(std::string_view text, double* rows, std::size_t most);
    void add(std::size_t lines, Block& block) const;

    struct Slot {
        std::size_t column;
        double factor;
    };

    char delimiter_, sign_, line_end_;
    bool columns_follow_;
    std::vector<ColumnStep> columns_;
    std::vector<Slot> slots_;  // one a channel
    std::size_t batch_lines_ = 1;
    std::vector<double> batch_;  // row after row
    std::vector<double> time_s_;
    std::vector<lanes::DecimalPattern> patterns_;  // of lines written alike
    std::uint64_t patterns_taken_ = 0;
    std::string row_end_;
    std::size_t row_bytes_ = 0;
};

}  // namespace ebbtide::recording
