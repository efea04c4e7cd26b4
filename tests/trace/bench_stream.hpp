#pragma once
// Streams as a bench would deliver them, laid down phase by phase, and the runs that the cutter finds in
// them.

#include <cmath>
#include <cstdint>
#include <random>
#include <span>
#include <vector>

#include "trace/cutter.hpp"

namespace ebbtide::testing_support {

/// Samples of one channel. Every phase goes on from the value at which the last one ended.
class BenchStream {
  public:
    explicit BenchStream(double base_V = 0) : base_V_(base_V), at_V_(base_V) {}

    BenchStream& rest(std::size_t samples) { return level(base_V_, samples); }
    BenchStream& hold(std::size_t samples) { return level(at_V_, samples); }
    BenchStream& level(double volts, std::size_t samples) {
        at_V_ = volts;
        samples_V.insert(samples_V.end(), samples, volts);
        return *this;
    }
    BenchStream& ramp(double to_V, std::size_t samples) {
        const double from_V = at_V_;
        for (std::size_t i = 1; i <= samples; ++i)
            samples_V.push_back(from_V +
                                (to_V - from_V) * static_cast<double>(i) / static_cast<double>(samples));
        at_V_ = to_V;
        return *this;
    }
    /// Toward `to_V`, by a factor e in `scale` samples.
    BenchStream& creep(double to_V, double scale, std::size_t samples) {
        const double from_V = at_V_;
        for (std::size_t i = 1; i <= samples; ++i)
            samples_V.push_back(to_V + (from_V - to_V) * std::exp(-static_cast<double>(i) / scale));
        at_V_ = samples_V.back();
        return *this;
    }
    BenchStream& fall(double scale, std::size_t samples) { return creep(base_V_, scale, samples); }
    /// Rest, charge, hold and seven time constants of the fall.
    BenchStream& run(double volts, std::size_t hold_samples, double scale) {
        return rest(400)
            .ramp(base_V_ + volts, 20)
            .hold(hold_samples)
            .fall(scale, static_cast<std::size_t>(7 * scale));
    }
    [[nodiscard]] std::uint64_t size() const { return samples_V.size(); }

    std::vector<double> samples_V;

  private:
    double base_V_, at_V_;
};

/// Normal noise; `correlation` in samples, 0 is white.
inline std::vector<double> noise(std::size_t samples, double deviation_V, double correlation,
                                 std::uint64_t seed) {
    std::mt19937_64 random(seed);
    std::normal_distribution<double> normal;
    const double keep = correlation > 0 ? std::exp(-1 / correlation) : 0;
    double at = normal(random);
    std::vector<double> out;
    out.reserve(samples);
    for (std::size_t i = 0; i < samples; ++i) {
        out.push_back(deviation_V * at);
        at = keep * at + std::sqrt(1 - keep * keep) * normal(random);
    }
    return out;
}

inline std::vector<double> sum(std::vector<double> a, std::span<const double> b) {
    for (std::size_t i = 0; i < a.size(); ++i) a[i] += b[i];
    return a;
}

inline std::vector<trace::RunSpan> cut(const std::vector<double>& drive,
                                       const std::vector<double>& specimen = {}) {
    trace::RunCutter cutter;
    std::vector<trace::RunSpan> found;
    cutter.add(drive, specimen, found);
    cutter.finish(found);
    return found;
}
inline std::vector<trace::RunSpan> cut(const BenchStream& stream) {
    return cut(stream.samples_V);
}

}  // namespace ebbtide::testing_support
