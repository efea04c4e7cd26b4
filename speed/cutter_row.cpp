// The stream cutter: runs found in a live stream that comes in blocks of 1,024 samples.

#include <fmt/core.h>
#include <algorithm>
#include <cmath>
#include <fstream>
#include <memory>
#include <span>
#include <stdexcept>

#include "peer.hpp"
#include "row.hpp"
#include "trace/cutter.hpp"

namespace ebbtide::speed {
namespace {

constexpr std::size_t block_samples = 1024;
constexpr std::size_t run_samples = 20000;

/// Runs of rest, charge, hold and decay at 10 kHz, both polarities in turn, noise 0.1 % of 5 kV.
std::vector<double> stream_of(std::size_t samples) {
    std::vector<double> stream(samples);
    std::uint64_t noise = 1;
    for (std::size_t i = 0; i < samples; ++i) {
        noise = noise * 6364136223846793005u + 1442695040888963407u;
        const double at = static_cast<double>(i % run_samples) / run_samples;
        const double sign = (i / run_samples) % 2 == 0 ? 1 : -1;
        double voltage = 0;
        if (at >= 0.2 && at < 0.25)
            voltage = 5000 * (at - 0.2) / 0.05;
        else if (at >= 0.25 && at < 0.5)
            voltage = 5000;
        else if (at >= 0.5)
            voltage = 5000 * std::exp(-(at - 0.5) / 0.05);
        stream[i] = sign * voltage + (static_cast<double>(noise >> 11) * 0x1p-53 - 0.5) * 17;
    }
    return stream;
}

Lap cut_once(std::span<const double> stream) {
    Lap lap;
    lap.seconds = seconds_of([&] {
        trace::RunCutter cutter;
        std::vector<trace::RunSpan> found;
        for (std::size_t first = 0; first < stream.size(); first += block_samples)
            cutter.add(stream.subspan(first, std::min(block_samples, stream.size() - first)), found);
        cutter.finish(found);
        lap.answer = static_cast<double>(found.size());
    });
    return lap;
}

}  // namespace

Row cutter_row(const std::string& folder) {
    Row row;
    row.id = "cutter";
    row.work = "runs cut out of a stream in blocks of 1,024 samples, one core";
    constexpr std::size_t samples = 20'000'000;
    const auto stream = std::make_shared<const std::vector<double>>(stream_of(samples));
    const std::string path = folder + "/stream.f64";
    std::ofstream out(path, std::ios::binary);
    out.write(reinterpret_cast<const char*>(stream->data()), static_cast<std::streamsize>(samples * 8));
    if (!out.flush()) throw std::runtime_error("cannot write " + path);

    row.size = fmt::format("20 million samples, {} runs", samples / run_samples);
    row.amount = static_cast<double>(samples);
    row.unit = "samples";
    row.ours = {"RunCutter, constant state", [stream] { return cut_once(*stream); }};
    row.peers = {
        peer("numpy, thresholds told in advance", {"/usr/bin/python3", EBBTIDE_PEERS "/edges.py", path})};
    row.goals = {{"at least 50 million samples a second", "", 50e6}};
    row.limit = "a few comparisons a sample that depend on the one before";
    for (const std::size_t size :
         {std::size_t{20'000}, std::size_t{200'000}, std::size_t{2'000'000}, samples})
        row.growth.push_back({static_cast<double>(size), [stream, size] {
                                  return cut_once({stream->data(), size});
                              }});
    return row;
}

}  // namespace ebbtide::speed
