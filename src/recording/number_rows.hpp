#pragma once
// Rows of numbers that come as numbers, as sound and HDF5 files hold them, into blocks. What is said of them
// is what the reader of text says of its lines.

#include <cstdint>
#include <limits>
#include <span>
#include <vector>

#include "recording/block_notices.hpp"
#include "recording/channels.hpp"
#include "recording/source.hpp"
#include "recording/time_axis.hpp"

namespace ebbtide::recording {

/// Rows at hand: a time for each, and one span a channel of the plan, all of one length.
struct Rows {
    std::uint64_t first_row = 0;  ///< number of the first one in the recording, from 0
    std::span<const double> time_s;
    std::vector<std::span<const double>> values;  ///< as recorded: the channel's factor is applied here
};

class NumberRows {
  public:
    static constexpr std::size_t rows_a_block = 4096;

    /// Values of `full_scale` or more, whatever their sign, are noted as clipped.
    explicit NumberRows(std::vector<ChannelColumn> channels,
                        double full_scale = std::numeric_limits<double>::infinity())
        : channels_(std::move(channels)), full_scale_(full_scale) {}

    /// Empties the block, which then must outlive the calls of add().
    void begin(Block& block);
    /// Adds rows from `from` on; returns the first one not taken. It stops at rows_a_block, and before a row
    /// that starts a segment when the block holds rows of the one before.
    std::size_t add(const Rows& rows, std::size_t from, Block& block);
    /// The next row starts a segment, whatever its time.
    void start_segment() { starts_segment_ = true; }
    /// Notes what concerns no single channel, at the last row.
    void note(trace::Notice::Kind kind, std::string text);
    [[nodiscard]] std::size_t taken() const { return taken_; }

  private:
    void add_value(std::size_t channel, double recorded, double time_s, double before_s, std::uint64_t row,
                   Block& block);

    std::vector<ChannelColumn> channels_;
    double full_scale_;
    AxisFollower axis_{TimeAxis{}};
    BlockNotices notices_;
    std::size_t taken_ = 0;  // rows of the block at hand
    bool starts_segment_ = true, backwards_ = false;
};

}  // namespace ebbtide::recording
