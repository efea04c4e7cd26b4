// Two-column text: a logger's file of 200 MB read to its end, on one core.

#include <fmt/core.h>
#include <filesystem>
#include <fstream>
#include <stdexcept>

#include "peer.hpp"
#include "recording/source.hpp"
#include "row.hpp"

namespace ebbtide::speed {
namespace {

/// A file of at least `bytes`: runs of charge, hold and decay at 10 kHz with a little noise, as a logger
/// writes them.
std::string write_file(const std::string& folder, double bytes) {
    const std::string path = fmt::format("{}/recording-{:.0f}.csv", folder, bytes);
    std::ofstream out(path, std::ios::binary);
    std::string text = "time_s,specimen_V\n";
    std::uint64_t noise = 1;
    double written = 0;
    for (std::uint64_t i = 0; written + static_cast<double>(text.size()) < bytes; ++i) {
        noise = noise * 6364136223846793005u + 1442695040888963407u;
        const double phase = static_cast<double>(i % 20000) / 20000;
        const double clean = phase < 0.1 ? 0 : phase < 0.3 ? 5000 : 5000 * (1 - phase) * (1 - phase);
        const double voltage = clean + static_cast<double>(noise >> 54) / 100;
        fmt::format_to(std::back_inserter(text), "{:.6f},{:.3f}\n", static_cast<double>(i) * 1e-4, voltage);
        if (text.size() > (1u << 20)) {
            out << text;
            written += static_cast<double>(text.size());
            text.clear();
        }
    }
    out << text;
    if (!out.flush()) throw std::runtime_error("cannot write " + path);
    return path;
}

/// The sum that checks the answer is taken off the clock, as it is for the peers.
Lap read_once(const std::string& path) {
    recording::ReadOptions options;
    options.hash = false;
    std::unique_ptr<recording::Source> source;
    recording::Block block;
    bool more = true;
    Lap lap;
    lap.seconds = seconds_of([&] { source = std::move(recording::open(path, options)).value(); });
    while (more) {
        lap.seconds += seconds_of([&] { more = source->next(block).value(); });
        if (!more) break;
        for (const double voltage : block.channels.at(0).value) lap.answer += voltage;
    }
    return lap;
}

}  // namespace

Row text_row(const std::string& folder) {
    Row row;
    row.id = "text";
    row.work = "two-column text, one core";
    constexpr double megabytes = 200;
    const std::string path = write_file(folder, megabytes * 1e6);
    row.size = fmt::format("{:.0f} MB, time and voltage", megabytes);
    row.amount = megabytes;
    row.unit = "MB";
    row.ours = {"recording, to blocks of samples", [path] { return read_once(path); }};
    row.peers = {peer("data.table::fread", {"Rscript", EBBTIDE_PEERS "/fread.R", path}),
                 peer("pandas.read_csv", {"/usr/bin/python3", EBBTIDE_PEERS "/text.py", "pandas", path}),
                 peer("numpy.loadtxt", {"/usr/bin/python3", EBBTIDE_PEERS "/text.py", "numpy", path})};
    row.goals = {{"at least 2 times as fast as fread on one core", "data.table::fread", 2}};
    row.limit =
        "memory for the samples and turning digits into doubles, some 12 ns for each row of two numbers";
    for (const double size : {0.2, 2.0, 20.0, 200.0})
        row.growth.push_back({size, [small = size < megabytes ? write_file(folder, size * 1e6) : path] {
                                  return read_once(small);
                              }});
    return row;
}

}  // namespace ebbtide::speed
