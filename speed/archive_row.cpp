// Four level crossings of every trace of an archive in memory: what judging old waveforms under other levels
// costs.

#include <fmt/core.h>
#include <array>
#include <cmath>
#include <fstream>
#include <memory>
#include <stdexcept>

#include "lanes/last_above.hpp"
#include "peer.hpp"
#include "row.hpp"

namespace ebbtide::speed {
namespace {

constexpr std::size_t trace_samples = 2000;
constexpr std::array<double, 4> levels{0.5, 0.36787944117144233, 0.1, 0.01};
using Archive = std::vector<double>;  // traces of trace_samples, one after another

/// Exponentials of 5 to 8 time constants from some 5 kV, with 0.1 % of noise.
Archive archive_of(std::size_t traces) {
    Archive archive(traces * trace_samples);
    std::uint64_t noise = 1;
    for (std::size_t i = 0; i < archive.size(); ++i) {
        noise = noise * 6364136223846793005u + 1442695040888963407u;
        const std::size_t trace = i / trace_samples, sample = i % trace_samples;
        const double time_constants = 5 + 3 * static_cast<double>(trace % 101) / 101;
        archive[i] = 5000 * std::exp(-time_constants * static_cast<double>(sample) / trace_samples) +
                     (static_cast<double>(noise >> 11) * 0x1p-53 - 0.5) * 17;
    }
    return archive;
}

/// Sum over all traces and levels of the crossing, in samples: from the last sample above the level, along
/// the straight line to the next.
double crossings(const double* data, std::size_t traces) {
    double total = 0;
    for (std::size_t trace = 0; trace < traces; ++trace) {
        const double* const v = data + trace * trace_samples;
        std::array<double, levels.size()> volts;
        for (std::size_t i = 0; i < levels.size(); ++i) volts[i] = levels[i] * v[0];
        std::array<std::optional<std::size_t>, levels.size()> found;
        lanes::last_above({v, trace_samples}, volts, found);
        for (std::size_t i = 0; i < levels.size(); ++i) {
            const std::size_t last = found[i].value_or(0);
            total += static_cast<double>(last) + (v[last] - volts[i]) / (v[last] - v[last + 1]);
        }
    }
    return total;
}

/// The floor: every double of the archive read once and added up.
double plain_read(const double* data, std::size_t count) {
    std::array<double, 32> sums{};
    for (std::size_t i = 0; i + sums.size() <= count; i += sums.size())
        for (std::size_t k = 0; k < sums.size(); ++k) sums[k] += data[i + k];
    double total = 0;
    for (const double sum : sums) total += sum;
    return total;
}

Lap timed(double (*work)(const double*, std::size_t), const Archive& archive, std::size_t count) {
    Lap lap;
    lap.seconds = seconds_of([&] {
        lap.answer = work(archive.data(), count);
        keep(lap.answer);
    });
    return lap;
}

}  // namespace

Row archive_row(const std::string& folder) {
    Row row;
    row.id = "archive";
    row.work = "four level crossings (0.5, 1/e, 0.1, 0.01) of every trace of an archive in memory, one core";
    constexpr std::size_t traces = 20'000;
    const auto archive = std::make_shared<const Archive>(archive_of(traces));
    const std::string path = folder + "/archive.f64";
    std::ofstream out(path, std::ios::binary);
    out.write(reinterpret_cast<const char*>(archive->data()),
              static_cast<std::streamsize>(archive->size() * 8));
    if (!out.flush()) throw std::runtime_error("cannot write " + path);

    row.size =
        fmt::format("{} traces of {} samples, {} MB", traces, trace_samples, archive->size() * 8 / 1000000);
    row.amount = static_cast<double>(archive->size()) * 8e-6;
    row.unit = "MB";
    row.ours = {"scan from the end", [archive] { return timed(crossings, *archive, traces); }};
    row.peers = {peer("numpy in blocks of 64 traces",
                      {"/usr/bin/python3", EBBTIDE_PEERS "/levels.py", path, std::to_string(trace_samples)}),
                 {"plain read of the same memory",
                  [archive] { return timed(plain_read, *archive, archive->size()); }, false}};
    row.goals = {{"at least 0.85 times the rate of a plain read", "plain read of the same memory", 0.85}};
    row.limit = "reading memory; archives under 32 MB stay in the cache of this kind of machine";
    for (const std::size_t size : {std::size_t{20}, std::size_t{200}, std::size_t{2000}, traces})
        row.growth.push_back({static_cast<double>(size * trace_samples) * 8e-6,
                              [archive, size] { return timed(crossings, *archive, size); }});
    return row;
}

}  // namespace ebbtide::speed
