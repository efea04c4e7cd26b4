#pragma once
// Cuts runs out of a stream of samples: charge, hold, release, decay, in either polarity.
//
// The cutter needs no settings: it learns the noise from the quiet stretches and the size of a charge from
// the charge itself. It holds constant state, gives the same cuts for blocks of 1 and of 1,000,000 samples,
// and emits spans, not copies. How it decides is told in docs/cutting.md.

#include <cstddef>
#include <cstdint>
#include <optional>
#include <vector>

#include "trace/samples.hpp"

namespace ebbtide::trace {

/// One run as sample indices of the drive channel (the electrode voltage where there is one, else the
/// specimen's), counted from the start of the segment.
struct RunSpan {
    std::uint64_t first = 0;  ///< first sample kept
    std::uint64_t charge_start =
        0;  ///< first sample off the base level; == first when the recording starts charged
    std::uint64_t last_high =
        0;  ///< last sample near the plateau: the release is not before the plateau's end ...
    std::uint64_t first_low = 0;  ///< ... and not after this sample, clearly below it (or `end`)
    std::uint64_t end = 0;        ///< one past the last sample kept
    double first_s = 0, charge_start_s = 0, last_high_s = 0, first_low_s = 0,
           last_s = 0;            ///< their times; last_s of end - 1
    bool starts_charged = false;  ///< no charging side: the recording starts in the hold or at the release
    double base = 0;              ///< level before the charge, in the channel's unit; 0 when never seen
    double sign = 1;              ///< of the excursion from the base
    double height = 0;            ///< largest distance from the base
};

/// Feeds on samples, yields spans. See the file comment. Cost: a few comparisons a sample.
class RunCutter {
  public:
    /// Adds samples of the drive channel; found runs are appended to `found`, oldest first.
    void add(Samples block, std::vector<RunSpan>& found);
    /// Ends the segment: the run in progress, if it has a fall, is emitted; the cutter starts afresh.
    void finish(std::vector<RunSpan>& found);
    /// No later span will reach before this index: samples older than it can be dropped.
    [[nodiscard]] std::uint64_t oldest_needed() const;
    /// Excursions thrown away because they lasted fewer than three samples (spikes), since the segment began.
    [[nodiscard]] std::uint64_t spikes() const { return spikes_; }

  private:
    // filled in by the implementation
    std::uint64_t spikes_ = 0;
};

}  // namespace ebbtide::trace
