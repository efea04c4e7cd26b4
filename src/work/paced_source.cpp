#include "work/paced_source.hpp"

#include <algorithm>
#include <chrono>
#include <cmath>
#include <limits>
#include <optional>
#include <thread>
#include <utility>

namespace ebbtide::work {
namespace {

using Clock = std::chrono::steady_clock;

constexpr double piece_s = 0.05;

class Paced final : public recording::Source {
  public:
    Paced(std::unique_ptr<recording::Source> source, double pace, Attend attend)
        : source_(std::move(source)), pace_(pace), attend_(std::move(attend)) {}

    const recording::Description& description() const override { return source_->description(); }
    std::string sha256() override { return source_->sha256(); }
    std::uint64_t bytes() const override { return source_->bytes(); }
    std::optional<recording::KeptRuns> kept_runs() const override { return source_->kept_runs(); }

    Result<bool> next(recording::Block& block) override {
        if (stopped_ || (attend_ && !attend_())) {
            stopped_ = true;
            return false;
        }
        if (!held_) {
            auto more = source_->next(whole_);
            if (!more || !*more) return more;
            if (pace_ <= 0) {
                std::swap(block, whole_);
                return true;
            }
            begin();
        }
        hand_out(block);
        return wait_until_due(block) || !(stopped_ = true);
    }

  private:
    void begin() {
        held_ = true;
        used_.assign(whole_.channels.size(), 0);
        if (whole_.starts_segment) {
            // Time starts again: play on from now.
            started_.reset();
        }
    }

    /// The samples of the next stretch of time; the block's beginning and end go with its first and last one.
    void hand_out(recording::Block& block) {
        double from_s = std::numeric_limits<double>::infinity();
        for (std::size_t c = 0; c < used_.size(); ++c)
            if (const auto& times = whole_.channels[c].time_s; used_[c] < times.size())
                from_s = std::min(from_s, times[used_[c]]);
        constexpr double infinity = std::numeric_limits<double>::infinity();
        // At times so large that a stretch vanishes beside them, one sample at a time.
        const double until_s = std::max(from_s + piece_s * pace_, std::nextafter(from_s, infinity));
        const bool first = std::ranges::all_of(used_, [](std::size_t used) { return used == 0; });
        block.starts_segment = first && whole_.starts_segment;
        block.run.reset();
        block.notices.clear();
        if (first) {
            block.run = whole_.run;
            block.notices = whole_.notices;
        }
        block.channels.resize(used_.size());
        held_ = false;
        for (std::size_t c = 0; c < used_.size(); ++c) {
            const recording::ChannelBlock& all = whole_.channels[c];
            const auto begin = static_cast<std::ptrdiff_t>(used_[c]);
            const auto end =
                std::lower_bound(all.time_s.begin() + begin, all.time_s.end(), until_s) - all.time_s.begin();
            recording::ChannelBlock& out = block.channels[c];
            out.time_s.assign(all.time_s.begin() + begin, all.time_s.begin() + end);
            out.value.assign(all.value.begin() + begin, all.value.begin() + end);
            used_[c] = static_cast<std::size_t>(end);
            held_ = held_ || used_[c] < all.time_s.size();
        }
        block.ends_segment = !held_ && whole_.ends_segment;
    }

    /// False when the person stops it meanwhile.
    bool wait_until_due(const recording::Block& block) {
        constexpr double infinity = std::numeric_limits<double>::infinity();
        double first_s = infinity, last_s = -infinity;
        for (const recording::ChannelBlock& channel : block.channels)
            if (!channel.time_s.empty()) {
                first_s = std::min(first_s, channel.time_s.front());
                last_s = std::max(last_s, channel.time_s.back());
            }
        if (last_s == -infinity) return true;
        if (!started_) {
            started_ = Clock::now();
            started_at_s_ = first_s;
        }
        constexpr double longest_s = 1e8;
        const double due_s = std::clamp((last_s - started_at_s_) / pace_, 0.0, longest_s);
        const auto due =
            *started_ + std::chrono::duration_cast<Clock::duration>(std::chrono::duration<double>(due_s));
        while (Clock::now() < due) {
            if (attend_ && !attend_()) return false;
            std::this_thread::sleep_until(std::min(due, Clock::now() + std::chrono::milliseconds(20)));
        }
        return true;
    }

    std::unique_ptr<recording::Source> source_;
    double pace_;
    Attend attend_;
    recording::Block whole_;
    bool held_ = false, stopped_ = false;
    std::vector<std::size_t> used_;  // samples of each channel that were handed out
    std::optional<Clock::time_point> started_;
    double started_at_s_ = 0;
};

}  // namespace

std::unique_ptr<recording::Source> paced(std::unique_ptr<recording::Source> source, double pace,
                                         Attend attend) {
    return std::make_unique<Paced>(std::move(source), pace, std::move(attend));
}

}  // namespace ebbtide::work
