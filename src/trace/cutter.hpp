#pragma once
// Cuts runs out of a stream of samples: charge, hold, release, decay, in either polarity.
//
// The cutter needs no settings: it learns the noise from the quiet stretches and the size of a charge from
// the charge itself. It holds constant state, gives the same cuts for blocks of 1 and of 1,000,000 samples,
// and emits spans, not copies. How it decides, and why, is told in docs/cutting.md.

#include <cstddef>
#include <cstdint>
#include <limits>
#include <optional>
#include <span>
#include <vector>

namespace ebbtide::trace {

/// One run as sample indices of the drive channel, counted from the start of the segment. The release lies
/// between `last_high` and `first_low`; `decay` finds it within.
struct RunSpan {
    std::uint64_t first = 0;         ///< first sample kept, with the quiet stretch before the charge
    std::uint64_t charge_start = 0;  ///< first sample off the base level (early rather than late)
    std::uint64_t last_high = 0;     ///< last sample within a tenth of the height
    std::uint64_t first_low = 0;  ///< first sample after it below half the height; `end` when there is none
    std::uint64_t end = 0;        ///< one past the last sample kept
    bool starts_charged = false;  ///< no charging side: the recording starts in the hold or at the release
    double base = 0;              ///< level before the charge; 0 when never seen
    double sign = 1;              ///< of the excursion from the base
    double height = 0;            ///< largest distance from the base
};

/// Feeds on samples, yields spans. Cost: a few comparisons a sample. One thread. NaN must not come in.
class RunCutter {
  public:
    /// Adds samples of the drive channel (the electrode voltage where there is one, else the specimen's);
    /// found runs are appended to `found`, oldest first. `specimen` is given, with as many samples, when the
    /// drive is the electrode: a run then ends when the specimen, not the electrode, has come to rest.
    void add(std::span<const double> drive, std::span<const double> specimen, std::vector<RunSpan>& found);
    void add(std::span<const double> drive, std::vector<RunSpan>& found) { add(drive, {}, found); }

    /// Ends the segment: the run in progress, if it has fallen, is emitted; the cutter starts afresh at index
    /// 0.
    void finish(std::vector<RunSpan>& found);

    /// A run that has begun and is not cut yet, as it would be if the stream ended here. It may still turn
    /// out to be noise. Nothing while the stream is quiet.
    struct InProgress {
        RunSpan span;
        bool at_rest = false;  ///< it has fallen and come to rest: only its tail is still awaited
    };
    [[nodiscard]] std::optional<InProgress> in_progress() const;

    /// No later span reaches before this index: older samples can be dropped.
    [[nodiscard]] std::uint64_t oldest_needed() const;

  private:
    struct Sample {
        double drive = 0, specimen = 0;
    };

    /// The range of a quiet stretch. It forgets slowly, so that a drifting zero does not widen it for ever;
    /// and it takes an excursion in only when the signal has come back from it, so that a slow ramp is not
    /// taken for quiet.
    struct Band {
        double low = 0, high = 0, earlier_low = 0, earlier_high = 0;
        double outside_low = 0, outside_high = 0;
        double sum = 0;
        std::uint64_t generation = 0, count = 0;

        void restart(double value);
        void take(double value);
        void look_outside(double value);
        void widen(double value, std::uint64_t samples);
        [[nodiscard]] double bottom() const { return low < earlier_low ? low : earlier_low; }
        [[nodiscard]] double top() const { return high > earlier_high ? high : earlier_high; }
        [[nodiscard]] double width() const { return top() - bottom(); }
        [[nodiscard]] double mean() const { return sum / static_cast<double>(generation); }
        [[nodiscard]] bool known() const { return count >= 16; }
    };

    void take(Sample sample, std::vector<RunSpan>& found);
    void open_segment(std::vector<RunSpan>& found);
    void take_quiet(Sample sample, std::vector<RunSpan>& found);
    void take_active(Sample sample, std::vector<RunSpan>& found);
    void begin_run(std::uint64_t first, double base, double sign, double drive);
    void begin_charged(double level, double specimen_level);
    [[nodiscard]] bool starts_a_fall(double base, double drive) const;
    void take_standing_for_base(double height);
    bool close_run(std::uint64_t end, std::vector<RunSpan>& found);
    void offer(const RunSpan& run, bool established, std::vector<RunSpan>& found);
    bool take_for_ripple();
    void settle_pending(double least_height, std::vector<RunSpan>& found);
    [[nodiscard]] double highest_pending() const;
    [[nodiscard]] bool has_fallen() const;
    [[nodiscard]] double recharge_threshold() const;

    enum class State { opening, quiet, active } state_ = State::opening;
    std::vector<Sample> head_;  ///< the first samples of the segment, until the opening is decided
    std::uint64_t index_ = 0;   ///< of the sample being taken
    std::uint64_t quiet_from_ = 0;
    Band drive_band_, specimen_band_, rest_band_;
    double last_drive_ = 0;
    double step_ = 0, quiet_step_ = 0;  ///< from the sample before; the largest of the quiet stretches
    double smallest_step_ = std::numeric_limits<double>::infinity();

    RunSpan run_;
    double run_step_ = 0, rise_step_ = 0;  ///< largest steps of the run, and of its rise
    std::uint64_t risen_ = 0;              ///< where the height last grew by a tenth
    double risen_height_ = 0;
    std::uint64_t min_index_ = 0;
    double min_height_ = 0;
    std::uint64_t still_until_ = 0;  ///< last sample less than half-way to a new charge
    double standing_ = 0;  ///< level that the recording starts at, while it may be a charge or a base; else 0
    std::uint64_t standing_from_ = 0, standing_until_ = 0;
    std::optional<std::uint64_t> first_low_;
    std::optional<std::uint64_t> rest_from_;  ///< first sample at rest after the fall
    std::uint64_t rest_until_ = 0;
    double specimen_base_ = 0, specimen_height_ = 0;
    /// Means of 16 samples tell a plateau from its noise when nothing fell far.
    double mean_sum_ = 0, last_mean_ = 0, highest_mean_ = 0;
    int mean_count_ = 0;

    std::vector<RunSpan> pending_;   ///< runs on probation, a bounded number
    double established_height_ = 0;  ///< of the highest run known to be one; 0 before there is any

    /// A median of three keeps single spikes out: the last two samples wait for their successor.
    Sample before_, waiting_;
    std::uint64_t received_ = 0;
    bool follows_specimen_ = false;
};

}  // namespace ebbtide::trace
