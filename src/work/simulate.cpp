#include "work/simulate.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <filesystem>
#include <fstream>
#include <nlohmann/json.hpp>

#include "basis/sha256.hpp"
#include "decay/sheet_cells.hpp"
#include "paperwork/paperwork.hpp"
#include "recording/recording_file.hpp"
#include "work/convert.hpp"
#include "work/order_files.hpp"
#include "work/simulated_recorder.hpp"

namespace ebbtide::work {
namespace {

using nlohmann::ordered_json;

constexpr std::uint64_t largest_simulation = 4 << 20;

ordered_json number_or_null(const std::optional<double>& value) {
    return value ? ordered_json(*value) : ordered_json(nullptr);
}

ordered_json name_or_null(const std::string& text) {
    return text.empty() ? ordered_json(nullptr) : ordered_json(text);
}

ordered_json truth_of(const plan::SimulatedRecording& recording, const SimulatedTrace& trace,
                      const std::string& file, const std::string& bytes) {
    ordered_json runs = ordered_json::array(), faults = ordered_json::array();
    for (std::size_t i = 0; i < trace.releases.size(); ++i) {
        const bench::TrueRelease& release = trace.releases[i];
        const auto face = i < recording.runs.size() ? recording.runs[i].face : std::string();
        runs.push_back({{"specimen", name_or_null(release.specimen)},
                        {"face", name_or_null(face)},
                        {"polarity", release.clamp_V < 0 ? "-" : "+"},
                        {"release_s", release.at_s},
                        {"clamp_V", release.clamp_V},
                        {"initial_voltage_V", release.initial_voltage_V},
                        {"material_V", release.material_V},
                        {"slowest_s", number_or_null(release.slowest_s)},
                        {"decay_50_s", number_or_null(release.decay_s[0])},
                        {"decay_1_over_e_s", number_or_null(release.decay_s[1])},
                        {"decay_10_s", number_or_null(release.decay_s[2])},
                        {"decay_1_s", number_or_null(release.decay_s[3])}});
    }
    for (const bench::TrueFault& fault : trace.faults)
        faults.push_back({{"kind", plan::facts(fault.kind).name},
                          {"from_s", fault.from_s},
                          {"to_s", number_or_null(fault.to_s)}});
    return {{"file", file}, {"sha256", sha256_hex(bytes)}, {"runs", runs}, {"faults", faults}};
}

/// What the sheets are that are not the same everywhere.
Result<ordered_json> maps_of(const SimulatedBenchFiles& files) {
    ordered_json out = ordered_json::array();
    for (const plan::SimulatedSpecimen& specimen : files.simulation.specimens) {
        if (!specimen.map) continue;
        const auto cells = decay::cells_of(*specimen.map, files.bench.fixture.clamp_gap_mm.value_or(0));
        if (!cells) return cells.error();
        out.push_back({{"specimen", specimen.id},
                       {"cells_along", cells->ohm_sq.rows()},
                       {"cells_across", cells->ohm_sq.cols()},
                       {"lowest_ohm_sq", cells->ohm_sq.minCoeff()},
                       {"highest_ohm_sq", cells->ohm_sq.maxCoeff()},
                       {"parts_share", cells->parts_share}});
    }
    return out;
}

Error cannot_write(const std::string& path) {
    return {Fault::unreadable, "cannot be written", path,
            "Check that the folder is there, writable and not full"};
}

/// Beside the file and moved over it: a failure leaves what was there.
Result<Done> write_file(const std::string& path, const std::string& bytes) {
    const std::string part = path + ".part";
    std::ofstream out(part, std::ios::binary | std::ios::trunc);
    out << bytes;
    out.close();
    std::error_code fault;
    if (out) std::filesystem::rename(part, path, fault);
    if (!out || fault) {
        std::filesystem::remove(part, fault);
        return cannot_write(path);
    }
    return Done{};
}

bool is_text(const std::string& path) {
    const std::string ending = std::filesystem::path(path).extension().string();
    return ending == ".csv" || ending == ".txt";
}

/// Gives the bytes that were written.
Result<std::string> write_recording(const std::string& path, const std::string& csv) {
    if (is_text(path)) {
        if (auto written = write_file(path, csv); !written) return written.error();
        return csv;
    }
    auto source = recording::open_bytes(csv, std::filesystem::path(path).stem().string() + ".csv", {});
    if (!source) return source.error();
    if (const auto converted = convert_to_file(**source, path); !converted) return converted.error();
    return read_whole(path, std::uint64_t{1} << 40);
}

}  // namespace

Result<SimulatedBenchFiles> read_simulation(const std::string& path) {
    const auto text = read_whole(path, largest_simulation);
    if (!text) return text.error();
    auto simulation = paperwork::parse_simulation(*text, path);
    if (!simulation) return simulation.error();
    const std::string bench_path = (std::filesystem::path(path).parent_path() / simulation->bench).string();
    const auto bench_text = read_whole(bench_path, largest_simulation);
    if (!bench_text) return bench_text.error();
    auto believed = paperwork::parse_bench(*bench_text, bench_path);
    if (!believed) return believed.error();
    return SimulatedBenchFiles{std::move(simulation).value(), std::move(believed).value()};
}

Result<SimulatedTrace> simulate_recording(const plan::Simulation& simulation, const plan::Bench& believed,
                                          std::size_t number, std::uint64_t seed) {
    auto recorder = SimulatedRecorder::open(simulation, believed, number, seed);
    if (!recorder) return recorder.error();
    SimulatedTrace out;
    for (;;) {
        const auto more = recorder->go_on(out.csv);
        if (!more) return more.error();
        if (!*more) break;
    }
    out.releases = recorder->bench().releases();
    out.faults = recorder->bench().faults();
    return out;
}

Result<SimulatedFiles> simulate(const SimulateRequest& request) {
    const auto files = read_simulation(request.simulation);
    if (!files) return files.error();
    const plan::Simulation& simulation = files->simulation;
    const std::uint64_t seed = request.seed.value_or(simulation.seed);
    std::vector<std::size_t> wanted;
    for (std::size_t i = 0; i < simulation.recordings.size(); ++i)
        if (request.recording.empty() || simulation.recordings[i].file == request.recording)
            wanted.push_back(i);
    if (wanted.empty())
        return Error{Fault::bad_input,
                     request.recording.empty() ? "has no [[recording]]"
                                               : fmt::format("has no [[recording]] '{}'", request.recording),
                     request.simulation, "Name one of those that it has"};
    const bool one_file = is_text(request.output) || recording::file_kind_of(request.output).ok();
    if (one_file && wanted.size() > 1)
        return Error{Fault::bad_input, fmt::format("has {} recordings", wanted.size()), request.simulation,
                     "Name a folder for them, or one of them with --recording"};

    SimulatedFiles out;
    ordered_json recordings = ordered_json::array();
    std::error_code fault;
    if (!one_file) std::filesystem::create_directories(request.output, fault);
    if (fault) return cannot_write(request.output);
    for (const std::size_t number : wanted) {
        const plan::SimulatedRecording& recording = simulation.recordings[number];
        const auto trace = simulate_recording(simulation, files->bench, number, seed);
        if (!trace) return trace.error();
        const std::string path =
            one_file ? request.output : (std::filesystem::path(request.output) / recording.file).string();
        const auto bytes = write_recording(path, trace->csv);
        if (!bytes) return bytes.error();
        out.recordings.push_back(path);
        out.releases += trace->releases.size();
        recordings.push_back(
            truth_of(recording, *trace, std::filesystem::path(path).filename().string(), *bytes));
    }
    const auto maps = maps_of(*files);
    if (!maps) return maps.error();
    const ordered_json truth{{"schema", "ebbtide.truth/1"},
                             {"simulation", std::filesystem::path(request.simulation).filename().string()},
                             {"seed", seed},
                             {"maps", *maps},
                             {"recordings", recordings}};
    std::filesystem::path beside(request.output);
    if (!beside.has_filename()) beside = beside.parent_path();
    if (one_file) beside.replace_extension();
    out.truth = beside.string() + ".truth.json";
    if (auto written = write_file(out.truth, truth.dump(1) + "\n"); !written) return written.error();
    return out;
}

}  // namespace ebbtide::work
