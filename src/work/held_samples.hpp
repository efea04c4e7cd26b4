#pragma once
// The samples that runs in progress may still need, and one run cut out of them.

#include <optional>
#include <vector>

#include "decay/figures.hpp"
#include "plan/bench.hpp"
#include "recording/source.hpp"
#include "trace/cutter.hpp"
#include "work/sample_window.hpp"

namespace ebbtide::work {

/// The samples of one run, and what they are in volts.
struct CutRun {
    trace::Samples drive, specimen, electrode, marker;  ///< as recorded
    std::vector<double> specimen_V, electrode_V;
    decay::RunTrace trace;  ///< over these
    double first_s = 0, last_s = 0;
};

class HeldSamples {
  public:
    /// Indices of the channels that matter: the first of each quantity.
    struct Channels {
        std::optional<std::size_t> specimen, electrode, marker;
    };
    /// Runs are cut along the electrode voltage where there is one, if `along_electrode`. Expects `bench` to
    /// outlive it.
    HeldSamples(const std::vector<trace::ChannelDescription>& channels, bool along_electrode,
                const std::optional<plan::Bench>& bench);

    [[nodiscard]] const Channels& channels() const { return channels_; }
    [[nodiscard]] bool follows_electrode() const { return follows_electrode_; }
    /// The channel that runs are cut by, and its scale.
    [[nodiscard]] const SampleWindow& drive() const { return follows_electrode_ ? electrode_ : specimen_; }
    [[nodiscard]] plan::VoltageScale drive_scale() const;

    void append(const recording::Block& block);
    /// Lets go of what lies before that sample of drive(); the time of the first that is left, if one is.
    std::optional<double> drop_before(std::uint64_t oldest);
    void clear();

    /// Nothing where there are too few samples, or none that anything could be taken from. It refers to
    /// what is held.
    [[nodiscard]] std::optional<CutRun> cut_of(const trace::RunSpan& span) const;

  private:
    const std::optional<plan::Bench>& bench_;
    Channels channels_;
    bool follows_electrode_ = false;
    SampleWindow specimen_, electrode_, marker_;
};

}  // namespace ebbtide::work
