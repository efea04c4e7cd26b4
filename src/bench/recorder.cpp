#include "bench/recorder.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace ebbtide::bench {
namespace {

constexpr std::uint64_t streams_a_channel = 64;
constexpr double slowest_pink_s = 1000 / (2 * std::numbers::pi);
// Equal parts of noise whose correlation times are a factor of 4 apart add up to 1/f within 5 %.
constexpr double pink_ratio = 4;

}  // namespace

RecorderChannel::RecorderChannel(const plan::VoltageScale& believed, const plan::SimulatedChannel& truth,
                                 double rate_Hz, std::uint64_t seed, std::uint64_t channel)
    : scale_(believed), truth_(truth), rate_Hz_(rate_Hz), white_{seed, channel * streams_a_channel} {
    const auto add = [&](double sd_V, double correlation_s) {
        const double keep = std::exp(-1 / (rate_Hz * correlation_s));
        Coloured one{
            keep, sd_V * std::sqrt(1 - keep * keep), 0, {seed, white_.purpose + 1 + coloured_.size()}};
        // Already there when the recorder is switched on: the draw before the first sample's.
        lanes::draw_normal(one.draws, 0, 0, sd_V, {&one.value, 1});
        coloured_.push_back(one);
    };
    const plan::SimulatedNoise& noise = truth.noise;
    if (noise.band_V > 0) add(noise.band_V, noise.band_s);
    if (noise.pink_V > 0) {
        std::vector<double> times_s;
        for (double t = 0.25 / rate_Hz; t < slowest_pink_s && times_s.size() < 40; t *= pink_ratio)
            times_s.push_back(t);
        for (const double t : times_s) add(noise.pink_V / std::sqrt(static_cast<double>(times_s.size())), t);
    }
}

void RecorderChannel::add_noise(std::span<double> samples) {
    const plan::SimulatedNoise& noise = truth_.noise;
    if (noise.white_V > 0) lanes::add_normal(white_, next_, noise.white_V, samples);
    for (Coloured& one : coloured_) {
        draws_.resize(samples.size());
        lanes::draw_normal(one.draws, next_ + 1, 0, 1, draws_);
        for (std::size_t i = 0; i < samples.size(); ++i) {
            one.value = one.keep * one.value + one.stir * draws_[i];
            samples[i] += one.value;
        }
    }
    if (noise.hum_V > 0)
        for (std::size_t i = 0; i < samples.size(); ++i) {
            // Whole turns are left out first: hours later the phase is still exact.
            const double turns = noise.hum_Hz / rate_Hz_ * static_cast<double>(next_ + i);
            samples[i] += noise.hum_V *
                          std::sin(2 * std::numbers::pi * (turns - std::floor(turns)) + noise.hum_phase_rad);
        }
}

void RecorderChannel::record(std::span<double> samples, std::optional<double> clip_V) {
    const double drift_V = truth_.drift_V_per_h / 3600 / rate_Hz_;
    for (std::size_t i = 0; i < samples.size(); ++i)
        samples[i] =
            samples[i] * (1 + truth_.gain_error) + truth_.offset_V + drift_V * static_cast<double>(next_ + i);
    add_noise(samples);
    const double most_V = std::min(clip_V.value_or(INFINITY), scale_.full_scale_V.value_or(INFINITY));
    for (double& sample : samples) {
        sample = scale_.recorded(std::clamp(sample, -most_V, most_V));
        if (truth_.step > 0) sample = std::round(sample / truth_.step) * truth_.step;
    }
    next_ += samples.size();
}

}  // namespace ebbtide::bench
