#pragma once
// A bench without faults and without noise, for seeing what would be sent before anything is live.

#include "bench/bench.hpp"
#include "bench/guarded_run.hpp"

namespace ebbtide::bench {

/// What hangs in the clamps of a rehearsal, and how the clamps follow the source.
struct Rehearsal {
    double sample_interval_s = 0.001;
    double rise_s = 0.02;       ///< time constant of the electrode with the output on
    double earthing_s = 0.002;  ///< and with the clamps earthed
    double bleed_s = 0.2;       ///< and with neither
    double specimen_s = 0.2;    ///< time constant of the specimen
    double induced_fraction = 0.1;
    double residual_V = 0;  ///< what the specimen carries at first
};

/// A first-order specimen: dv/dt = (electrode - v) / specimen_s, read with the induced fraction on top.
class RehearsalBench : public Bench {
  public:
    RehearsalBench(const Rehearsal& rehearsal, const Scales& scales)
        : rehearsal_(rehearsal), scales_(scales), specimen_V_(rehearsal.residual_V) {}
    [[nodiscard]] Result<Done> send(const Command& command) override;
    [[nodiscard]] Result<Observation> observe(double duration_s) override;
    /// Hangs something else in the clamps, uncharged: 0 is a metal plate, infinity conducts nothing.
    void hang(double specimen_s) {
        rehearsal_.specimen_s = specimen_s;
        specimen_V_ = 0;
    }
    [[nodiscard]] double now_s() const {
        return static_cast<double>(samples_) * rehearsal_.sample_interval_s;
    }
    [[nodiscard]] bool output_on() const { return on_; }
    [[nodiscard]] double electrode_V() const { return electrode_V_; }

  private:
    Rehearsal rehearsal_;
    Scales scales_;
    std::uint64_t samples_ = 0;
    bool on_ = false, earthed_ = true, shutter_closed_ = true;
    double set_V_ = 0, electrode_V_ = 0, specimen_V_ = 0;
};

}  // namespace ebbtide::bench
