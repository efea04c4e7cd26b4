#include "work/simulate.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <fstream>
#include <nlohmann/json.hpp>

#include "basis/sha256.hpp"
#include "paperwork/paperwork.hpp"
#include "recording/recording_file.hpp"
#include "work/convert.hpp"
#include "work/order_files.hpp"

namespace ebbtide::work {
namespace {

using bench::Action;
using nlohmann::ordered_json;

constexpr std::uint64_t largest_simulation = 4 << 20;
constexpr double block_s = 0.1;

struct Headings {
    std::string time = "Time (s)", electrode = "Electrode (V)", specimen = "Specimen (V)";
};

/// As the bench file names them.
Result<Headings> channel_headings(const plan::ChannelNames& names) {
    Headings out;
    const auto take = [](const std::string& name, std::string& heading) {
        if (name.find_first_not_of("0123456789") == std::string::npos) return name.empty();
        heading = name;
        return true;
    };
    if (!take(names.time, out.time) || !take(names.electrode, out.electrode) ||
        !take(names.specimen, out.specimen))
        return Error{Fault::bad_input, "names a channel by its number", "bench file",
                     "Give its heading, so that a simulated recording can carry it"};
    return out;
}

/// Drives a bench as a person would and writes down what it shows.
class Recorder {
  public:
    Recorder(bench::SimulatedBench& bench, const plan::Simulation& simulation)
        : bench_(bench), rate_Hz_(simulation.rate_Hz) {
        places_[0] = places_of(simulation.electrode.step);
        places_[1] = places_of(simulation.sensor.step);
        double tens = 1;
        for (int places = 0; places <= 9 && time_places_ < 0; ++places, tens *= 10)
            if (std::round(tens / rate_Hz_) == tens / rate_Hz_) time_places_ = places;
    }

    [[nodiscard]] Result<Done> drive(const plan::SimulatedRun& run) {
        command(Action::output_off);
        command(Action::earth_clamps);
        command(Action::close_shutter);
        // Nobody reaches into floating clamps.
        if (auto seen = look(floating_ ? earthed_first_s : 0); !seen) return seen;
        floating_ = !run.earthed;
        if (auto mounted = bench_.mount(run.specimen); !mounted) return mounted;
        if (auto seen = look(run.zero_s); !seen) return seen;
        command(Action::open_shutter);
        if (auto seen = look(run.residual_s); !seen) return seen;
        command(Action::set_voltage, run.voltage_V);
        command(Action::lift_earth);
        command(Action::output_on);
        if (auto seen = look(run.charge_s); !seen) return seen;
        command(Action::output_off);
        if (run.earthed) command(Action::earth_clamps);
        if (auto seen = look(run.decay_s); !seen) return seen;
        if (run.after_s > 0) command(Action::close_shutter);
        return look(run.after_s);
    }

    [[nodiscard]] std::string& rows() { return rows_; }

  private:
    static constexpr double earthed_first_s = 1;

    /// Fine enough for the steps to show.
    static int places_of(double step) {
        return step > 0 ? std::max(0, static_cast<int>(std::ceil(-std::log10(step)))) : -1;
    }

    /// A bench that refuses, or is out of reach, is a fault of the simulation's: the person goes on.
    void command(Action action, double voltage_V = 0) { static_cast<void>(bench_.send({action, voltage_V})); }

    [[nodiscard]] Result<Done> look(double duration_s) {
        for (double left_s = duration_s; left_s > 1e-9; left_s -= block_s) {
            const auto seen = bench_.observe(std::min(block_s, left_s));
            if (!seen && seen.error().code != Fault::unreadable) return seen.error();
            if (seen) put(*seen);
        }
        return Done{};
    }

    void put(const bench::Observation& seen) {
        const auto first = static_cast<std::uint64_t>(std::llround(seen.from_s * rate_Hz_));
        for (std::size_t i = 0; i < seen.electrode.size(); ++i) {
            const double at_s = static_cast<double>(first + i) / rate_Hz_;
            if (time_places_ < 0)
                fmt::format_to(std::back_inserter(rows_), "{}", at_s);
            else
                fmt::format_to(std::back_inserter(rows_), "{:.{}f}", at_s, time_places_);
            cell(seen.electrode[i], places_[0]);
            if (i < seen.specimen.size())
                cell(seen.specimen[i], places_[1]);
            else
                rows_ += ',';  // a silent sensor leaves its cell empty
            rows_ += '\n';
        }
    }

    void cell(double value, int places) {
        const std::size_t at = rows_.size();
        if (places < 0) {
            fmt::format_to(std::back_inserter(rows_), ",{:.9g}", value);
        } else {
            fmt::format_to(std::back_inserter(rows_), ",{:.{}f}", value, places);
            if (rows_[at + 1] == '-' && rows_.find_first_of("123456789", at) == std::string::npos)
                rows_.erase(at + 1, 1);
        }
    }

    bench::SimulatedBench& bench_;
    double rate_Hz_;
    int places_[2];
    int time_places_ = -1;  ///< none: as many as it takes
    bool floating_ = false;
    std::string rows_;
};

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
    const plan::SimulatedRecording& recording = simulation.recordings.at(number);
    const auto headings = channel_headings(believed.channels);
    if (!headings) return headings.error();
    auto opened = bench::SimulatedBench::open(
        simulation, believed,
        {.seed = seed + (static_cast<std::uint64_t>(number) << 32), .faults = recording.faults});
    if (!opened) return opened.error();
    Recorder recorder(**opened, simulation);
    for (const auto& [what, value] : simulation.lines) recorder.rows() += fmt::format("{},{}\n", what, value);
    recorder.rows() += fmt::format("Recording,{}\n", std::filesystem::path(recording.file).stem().string());
    recorder.rows() += fmt::format("\n{},{},{}\n", headings->time, headings->electrode, headings->specimen);
    for (const plan::SimulatedRun& run : recording.runs)
        if (auto driven = recorder.drive(run); !driven) return driven.error();
    return SimulatedTrace{std::move(recorder.rows()), (*opened)->releases(), (*opened)->faults()};
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
    const ordered_json truth{{"schema", "ebbtide.truth/1"},
                             {"simulation", std::filesystem::path(request.simulation).filename().string()},
                             {"seed", seed},
                             {"recordings", recordings}};
    std::filesystem::path beside(request.output);
    if (!beside.has_filename()) beside = beside.parent_path();
    if (one_file) beside.replace_extension();
    out.truth = beside.string() + ".truth.json";
    if (auto written = write_file(out.truth, truth.dump(1) + "\n"); !written) return written.error();
    return out;
}

}  // namespace ebbtide::work
