#pragma once
// From a true voltage to the numbers that a recorder keeps of it: gain, offset, drift, noise, mains hum, full
// scale and steps.

#include <array>
#include <cstdint>
#include <optional>
#include <span>
#include <vector>

#include "lanes/random.hpp"
#include "plan/bench.hpp"
#include "plan/simulation.hpp"

namespace ebbtide::bench {

/// One channel, fed with its samples from the first on. Every draw is a function of seed, purpose and the
/// sample's number: the numbers are the same in blocks of any size. One thread.
class RecorderChannel {
  public:
    /// `believed`: what the bench file says turns its numbers into volts. Two channels of a bench differ in
    /// `channel`.
    RecorderChannel(const plan::VoltageScale& believed, const plan::SimulatedChannel& truth, double rate_Hz,
                    std::uint64_t seed, std::uint64_t channel);

    /// Takes volts to recorded numbers. No more than `clip_V` is shown, either way, nor more than full scale.
    void record(std::span<double> samples, std::optional<double> clip_V = {});

    [[nodiscard]] std::uint64_t recorded() const { return next_; }

  private:
    /// Noise of one correlation time: x_i = keep x_(i-1) + stir e_i.
    struct Coloured {
        double keep = 0, stir = 0, value = 0;
        lanes::Stream draws;
    };
    void add_noise(std::span<double> samples);

    plan::VoltageScale scale_;
    plan::SimulatedChannel truth_;
    double rate_Hz_;
    lanes::Stream white_;
    std::vector<Coloured> coloured_;
    std::uint64_t next_ = 0;
    std::vector<double> draws_;
};

}  // namespace ebbtide::bench
