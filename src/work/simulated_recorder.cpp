#include "work/simulated_recorder.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <iterator>
#include <utility>

namespace ebbtide::work {
namespace {

using bench::Action;

constexpr double block_s = 0.1;
/// Nobody reaches into floating clamps.
constexpr double earthed_first_s = 1;

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

/// Fine enough for the steps to show.
int places_of_step(double step) {
    return step > 0 ? std::max(0, static_cast<int>(std::ceil(-std::log10(step)))) : -1;
}

}  // namespace

Result<SimulatedRecorder> SimulatedRecorder::open(const plan::Simulation& simulation,
                                                  const plan::Bench& believed, std::size_t number,
                                                  std::uint64_t seed, bench::Pace pace) {
    const plan::SimulatedRecording& recording = simulation.recordings.at(number);
    const auto headings = channel_headings(believed.channels);
    if (!headings) return headings.error();
    auto opened = bench::SimulatedBench::open(simulation, believed,
                                              {.seed = seed + (static_cast<std::uint64_t>(number) << 32),
                                               .pace = pace,
                                               .faults = recording.faults});
    if (!opened) return opened.error();
    SimulatedRecorder out;
    out.bench_ = std::move(opened).value();
    out.rate_Hz_ = simulation.rate_Hz;
    out.places_[0] = places_of_step(simulation.electrode.step);
    out.places_[1] = places_of_step(simulation.sensor.step);
    double tens = 1;
    for (int places = 0; places <= 9 && out.time_places_ < 0; ++places, tens *= 10)
        if (std::round(tens / out.rate_Hz_) == tens / out.rate_Hz_) out.time_places_ = places;
    for (const auto& [what, value] : simulation.lines) out.above_ += fmt::format("{},{}\n", what, value);
    out.above_ += fmt::format("Recording,{}\n", std::filesystem::path(recording.file).stem().string());
    out.above_ += fmt::format("\n{},{},{}\n", headings->time, headings->electrode, headings->specimen);
    out.plan_moves(recording);
    return out;
}

void SimulatedRecorder::plan_moves(const plan::SimulatedRecording& recording) {
    bool floating = false;
    for (const plan::SimulatedRun& run : recording.runs) {
        const auto command = [&](Action action, double voltage_V = 0) {
            moves_.emplace_back().command = bench::Command{action, voltage_V};
        };
        // In pieces, so that whoever listens is attended to.
        const auto wait = [&](double duration_s) {
            for (double left_s = duration_s; left_s > 1e-9; left_s -= block_s)
                moves_.emplace_back().wait_s = std::min(block_s, left_s);
        };
        command(Action::output_off);
        command(Action::earth_clamps);
        command(Action::close_shutter);
        wait(floating ? earthed_first_s : 0);
        floating = !run.earthed;
        Move& mount = moves_.emplace_back();
        mount.mounts = true;
        mount.specimen = run.specimen;
        wait(run.zero_s);
        command(Action::open_shutter);
        wait(run.residual_s);
        command(Action::set_voltage, run.voltage_V);
        command(Action::lift_earth);
        command(Action::output_on);
        wait(run.charge_s);
        command(Action::output_off);
        if (run.earthed) command(Action::earth_clamps);
        wait(run.decay_s);
        if (run.after_s > 0) command(Action::close_shutter);
        wait(run.after_s);
    }
}

Result<bool> SimulatedRecorder::go_on(std::string& text) {
    text += std::exchange(above_, {});
    while (next_ < moves_.size()) {
        const Move& move = moves_[next_++];
        // A bench that refuses, or is out of reach, is a fault of the simulation's: the person goes on.
        if (move.command) static_cast<void>(bench_->send(*move.command));
        if (move.mounts)
            if (auto mounted = bench_->mount(move.specimen); !mounted) return mounted.error();
        if (!(move.wait_s > 0)) continue;
        const auto seen = bench_->observe(move.wait_s);
        if (!seen && seen.error().code != Fault::unreadable) return seen.error();
        if (seen) put(*seen, text);
        return true;
    }
    return false;
}

void SimulatedRecorder::put(const bench::Observation& seen, std::string& text) const {
    const auto first = static_cast<std::uint64_t>(std::llround(seen.from_s * rate_Hz_));
    for (std::size_t i = 0; i < seen.electrode.size(); ++i) {
        const double at_s = static_cast<double>(first + i) / rate_Hz_;
        if (time_places_ < 0)
            fmt::format_to(std::back_inserter(text), "{}", at_s);
        else
            fmt::format_to(std::back_inserter(text), "{:.{}f}", at_s, time_places_);
        put_cell(text, seen.electrode[i], places_[0]);
        if (i < seen.specimen.size())
            put_cell(text, seen.specimen[i], places_[1]);
        else
            text += ',';  // a silent sensor leaves its cell empty
        text += '\n';
    }
}

void SimulatedRecorder::put_cell(std::string& text, double value, int places) {
    const std::size_t at = text.size();
    if (places < 0) {
        fmt::format_to(std::back_inserter(text), ",{:.9g}", value);
    } else {
        fmt::format_to(std::back_inserter(text), ",{:.{}f}", value, places);
        if (text[at + 1] == '-' && text.find_first_of("123456789", at) == std::string::npos)
            text.erase(at + 1, 1);
    }
}

}  // namespace ebbtide::work
