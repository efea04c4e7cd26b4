#include "work/frames.hpp"

#include <algorithm>
#include <limits>

namespace ebbtide::work {

void Frames::take(const recording::Block& block, const std::function<void(const Frame&)>& hand_on) {
    const auto finish = [&] {
        if (!begun_) return;
        for (std::size_t c = 0; c < frame_.channels.size(); ++c)
            if (Frame::Channel& channel = frame_.channels[c]; channel.samples > 0)
                channel.mean = sums_[c] / static_cast<double>(channel.samples);
        hand_on(frame_);
        begun_ = false;
    };
    if (block.starts_segment) finish();
    std::vector<std::size_t> used(block.channels.size());
    for (;;) {
        double first_s = std::numeric_limits<double>::infinity();
        for (std::size_t c = 0; c < used.size(); ++c)
            if (used[c] < block.channels[c].time_s.size())
                first_s = std::min(first_s, block.channels[c].time_s[used[c]]);
        if (first_s == std::numeric_limits<double>::infinity()) return;
        if (begun_ && !(first_s < frame_.from_s + frame_s)) finish();
        if (!begun_) {
            begun_ = true;
            frame_ = Frame{first_s, first_s, std::vector<Frame::Channel>(used.size())};
            sums_.assign(used.size(), 0.0);
        }
        for (std::size_t c = 0; c < used.size(); ++c) {
            const recording::ChannelBlock& from = block.channels[c];
            Frame::Channel& channel = frame_.channels[c];
            // One sample at least, also where the times are so large that a frame vanishes beside them.
            bool one = false;
            for (; used[c] < from.time_s.size(); ++used[c]) {
                const double time_s = from.time_s[used[c]], value = from.value[used[c]];
                if (time_s >= frame_.from_s + frame_s && (one || time_s > first_s)) break;
                one = true;
                channel.lowest = channel.samples == 0 ? value : std::min(channel.lowest, value);
                channel.highest = channel.samples == 0 ? value : std::max(channel.highest, value);
                ++channel.samples;
                sums_[c] += value;
                frame_.to_s = std::max(frame_.to_s, time_s);
            }
        }
    }
}

}  // namespace ebbtide::work
