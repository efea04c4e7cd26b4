#include "recording/number_rows.hpp"

#include <fmt/format.h>

#include <cmath>

namespace ebbtide::recording {

using trace::Notice;
using Kind = Notice::Kind;

namespace {

std::string no_number(double value) {
    return std::isnan(value) ? "is not a number" : "is beyond the largest number";
}

}  // namespace

void NumberRows::begin(Block& block) {
    block.starts_segment = block.ends_segment = false;
    block.run.reset();
    block.channels.resize(channels_.size());
    for (ChannelBlock& channel : block.channels) {
        channel.time_s.clear();
        channel.value.clear();
    }
    notices_.begin(block.notices);
    taken_ = 0;
}

std::size_t NumberRows::add(const Rows& rows, std::size_t from, Block& block) {
    using Step = AxisFollower::Step;
    for (std::size_t i = from; i < rows.time_s.size(); ++i) {
        if (taken_ == rows_a_block) return i;
        const std::uint64_t row = rows.first_row + i;
        const double time_s = rows.time_s[i];
        if (!std::isfinite(time_s)) {
            notices_.add({Kind::value_missing, 0, 0, 1, axis_.last_s(),
                          fmt::format("the time of sample {} {}", row + 1, no_number(time_s))});
            continue;
        }
        const Step step = axis_.step_to(time_s);
        if (step == Step::restart || step == Step::backwards) {
            starts_segment_ = true;
            backwards_ = backwards_ || step == Step::backwards;
        }
        if (starts_segment_) {
            if (taken_ > 0) return i;
            axis_.start_segment();
            block.starts_segment = true;
            starts_segment_ = false;
            if (backwards_)
                notices_.add({Kind::time_backwards, 0, 0, 1, time_s,
                              fmt::format("time runs backwards at sample {}", row + 1)});
            backwards_ = false;
        }
        const double before_s = axis_.started() ? axis_.last_s() : time_s;
        if (axis_.started() && step == Step::gap)
            notices_.add({Kind::time_gap, 0, 0, 1, before_s,
                          fmt::format("{:.6g} s without a sample", time_s - before_s)});
        if (axis_.started() && step == Step::same)
            notices_.add({Kind::time_repeated, 0, 0, 1, before_s, "two samples at one time"});
        for (std::size_t c = 0; c < channels_.size(); ++c)
            add_value(c, rows.values[c][i], time_s, before_s, row, block);
        axis_.accept(time_s);
        ++taken_;
    }
    return rows.time_s.size();
}

void NumberRows::add_value(std::size_t c, double recorded, double time_s, double before_s, std::uint64_t row,
                           Block& block) {
    const ChannelColumn& channel = channels_[c];
    const double value = recorded * channel.description.factor_to_SI;
    if (!std::isfinite(value)) {
        if (notices_.counted(Kind::value_missing, channel.column + 1)) return;
        notices_.add({Kind::value_missing, 0, channel.column + 1, 1, before_s,
                      fmt::format("sample {} {}", row + 1, no_number(value))});
        return;
    }
    if (std::abs(recorded) >= full_scale_ && !notices_.counted(Kind::clipped, channel.column + 1))
        notices_.add({Kind::clipped, 0, channel.column + 1, 1, before_s,
                      fmt::format("sample {} reads full scale", row + 1)});
    block.channels[c].time_s.push_back(time_s);
    block.channels[c].value.push_back(value);
}

void NumberRows::note(Kind kind, std::string text) {
    notices_.add({kind, 0, 0, 1, axis_.last_s(), std::move(text)});
}

}  // namespace ebbtide::recording
