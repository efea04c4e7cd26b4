#include "bench/simulated_bench.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <limits>
#include <thread>
#include <utility>

#include "bench/simulated_fixture.hpp"

namespace ebbtide::bench {
namespace {

using plan::FaultKind;
using sheet::ExponentialPart, sheet::Stretch;

// Purposes of draws beside those of the channels.
constexpr std::uint64_t setting_draws = 1'000, relay_draws = 1'001;

/// An earthing relay that bounces has contact for so long before it springs back.
constexpr double first_contact_s = 0.01;

Error refused(std::string what, std::string remedy) {
    return {Fault::bad_input, std::move(what), "simulated bench", std::move(remedy)};
}

Error link_is_lost() {
    return {Fault::unreadable, "the link to the bench is lost", "simulated bench",
            "What it was doing goes on: use the interlock, then look at the line"};
}

double voltage(const std::vector<ExponentialPart>& parts, double t) {
    return Stretch{0, parts, {}}.at(t);
}

}  // namespace

SimulatedBench::SimulatedBench(const plan::Simulation& simulation, const plan::Bench& believed,
                               const Options& options)
    : simulation_(simulation),
      faults_(simulation.faults),
      seed_(options.seed.value_or(simulation.seed)),
      pace_(options.pace),
      due_(std::chrono::steady_clock::now()),
      lag_s_(simulation.sensor_lag_s.value_or(believed.sensor.lag_s)),
      specimen_{{believed.sensor.scale, simulation.sensor, simulation.rate_Hz, seed_, 0},
                simulation.sensor.skew_s},
      electrode_{{believed.electrode, simulation.electrode, simulation.rate_Hz, seed_, 1},
                 simulation.electrode.skew_s} {
    faults_.insert(faults_.end(), options.faults.begin(), options.faults.end());
    lasting_.resize(faults_.size());
    for (std::size_t i = 0; i < faults_.size(); ++i)
        if (!faults_[i].output_on) schedule(std::llround(faults_[i].after_s * 1e9), FaultEdge{i, true});
}

Result<std::unique_ptr<SimulatedBench>> SimulatedBench::open(const plan::Simulation& simulation,
                                                             const plan::Bench& believed,
                                                             const Options& options) {
    const auto fixture = fixture_of(simulation, believed.fixture);
    if (!fixture) return fixture.error();
    auto cut = sheet::cut_sheet(*fixture);
    if (!cut) return cut.error();
    std::unique_ptr<SimulatedBench> out(new SimulatedBench(simulation, believed, options));
    for (const plan::SimulatedSpecimen& specimen : simulation.specimens) {
        if (!specimen.map) continue;
        auto map = map_of(*specimen.map, *fixture);
        if (!map) return map.error();
        out->maps_.emplace(specimen.id, std::move(map).value());
    }
    out->fixture_ = std::make_shared<const sheet::CutSheet>(std::move(cut).value());
    out->clamped_ = std::make_unique<sheet::Reflection>(out->fixture_->induced_fraction);
    return out;
}

Result<Done> SimulatedBench::send(const Command& command) {
    if (on(FaultKind::link_lost)) return link_is_lost();
    if (command.action == Action::output_on && !interlock_closed_)
        return refused("the interlock is open", "Close the enclosure");
    if (command.action == Action::output_on && tripped_)
        return refused("the source has tripped", "Find out why, then reset it");
    if (command.action == Action::set_voltage && !std::isfinite(command.voltage_V))
        return refused(fmt::format("cannot be set to {} V", command.voltage_V), "");
    schedule(now_ns_ + std::llround(delay_of_command_s(command.action) * 1e9), command);
    return advance(now_ns_);
}

Result<Observation> SimulatedBench::observe(double duration_s) {
    if (!(duration_s >= 1e-9) || !(duration_s < 1e9))
        return refused(fmt::format("cannot be observed for {} s", duration_s), "");
    const Ns to_ns = now_ns_ + std::llround(duration_s * 1e9);
    if (const auto moved = advance(to_ns); !moved) return moved.error();
    if (pace_.times > 0) {
        // A stretch begins when the one before has ended, or when somebody looks again.
        using std::chrono::steady_clock;
        const auto now = steady_clock::now();
        if (now - due_ > std::chrono::milliseconds(100)) due_ = now;
        due_ += std::chrono::nanoseconds(std::llround(static_cast<double>(to_ns - now_ns_) / pace_.times));
        std::this_thread::sleep_until(due_);
    }
    now_ns_ = to_ns;

    Observation out;
    out.from_s = static_cast<double>(observed_) / simulation_.rate_Hz;
    out.sample_interval_s = 1 / simulation_.rate_Hz;
    std::uint64_t end = observed_;
    // By whole nanoseconds: a sample that is due at the very end belongs to the next stretch.
    while (std::llround(static_cast<double>(end) * 1e9 / simulation_.rate_Hz) < now_ns_) ++end;
    const auto count = static_cast<std::ptrdiff_t>(end - observed_);
    observed_ = end;
    for (Channel* channel : {&specimen_, &electrode_}) {
        std::vector<double>& taken = channel == &specimen_ ? out.specimen : out.electrode;
        taken.assign(channel->waiting.begin(), channel->waiting.begin() + count);
        channel->waiting.erase(channel->waiting.begin(), channel->waiting.begin() + count);
    }
    if (on(FaultKind::link_lost)) {
        lost_ += static_cast<std::uint64_t>(count);
        return link_is_lost();
    }
    if (on(FaultKind::sensor_silent)) out.specimen.clear();
    out.lost = std::exchange(lost_, 0);
    out.interlock_closed = read_back(plan::Readback::interlock, interlock_closed_);
    out.output_on = read_back(plan::Readback::output, laid_on_);
    out.earthed = read_back(plan::Readback::earth, earthed_);
    out.shutter_closed = read_back(plan::Readback::shutter, shutter_closed_);
    const plan::SimulatedFault* air = on(FaultKind::humidity_excursion);
    out.temperature_C = simulation_.climate.temperature_C;
    out.relative_humidity_percent = air ? air->amount : simulation_.climate.relative_humidity_percent;
    return out;
}

Result<Done> SimulatedBench::advance(Ns to_ns) {
    for (;;) {
        const Ns next_ns = coming_.empty() ? std::numeric_limits<Ns>::max() : coming_.begin()->first;
        const double until_s = static_cast<double>(std::min(next_ns, to_ns)) * 1e-9;
        const double stretch_s = clamped_->reading_V().length_s;
        if (!(stretch_s > 0)) return Error{Fault::internal, "a stretch of no length", "simulated bench", {}};
        if (stretch_from_s_ + stretch_s < until_s) {
            const double end_s = stretch_from_s_ + stretch_s;
            record_until(end_s);
            watch_until(end_s);
            moment_s_ = end_s;
            if (auto gone = clamped_->go_on(); !gone) return gone;
            show(clamps_go_on(), sensed_.at(stretch_s));
            continue;
        }
        record_until(until_s);
        watch_until(until_s);
        moment_s_ = until_s;
        if (next_ns > to_ns) return Done{};
        const Happening what = coming_.begin()->second;
        coming_.erase(coming_.begin());
        if (auto done = happen(what); !done) return done;
    }
}

Result<Done> SimulatedBench::happen(const Happening& what) {
    if (const auto* command = std::get_if<Command>(&what)) return obey(*command);
    if (const auto* edge = std::get_if<FaultEdge>(&what)) return fault_edge(*edge);
    sprung_ = earthed_ && std::get<Relay>(what) == Relay::springs_back;
    return switch_clamps();
}

Result<Done> SimulatedBench::obey(const Command& command) {
    switch (command.action) {
        case Action::set_voltage:
            given_V_ += command.voltage_V - set_V_;
            set_V_ = command.voltage_V;
            return switch_clamps();
        case Action::output_on:
            return lay_on_source();
        case Action::output_off:
            take_off_source();
            return switch_clamps();
        case Action::earth_clamps: {
            if (laid_on_) {
                tripped_ = true;
                take_off_source();
            }
            // Floating until now: the fall begins here, unless little was left to fall.
            if (watching_ && moment_s_ > releases_.back().at_s &&
                std::abs(clamp_V()) > 0.5 * std::abs(releases_.back().clamp_V)) {
                releases_.pop_back();
                note_release();
            }
            if (!earthed_) {
                if (const plan::SimulatedFault* bounce = on(FaultKind::relay_bounces)) {
                    const Ns now = std::llround(moment_s_ * 1e9),
                             contact = std::llround(first_contact_s * 1e9);
                    schedule(now + contact, Relay::springs_back);
                    schedule(now + contact + std::llround(bounce->amount * 1e9), Relay::makes_again);
                }
            }
            earthed_ = true;
            return switch_clamps();
        }
        case Action::lift_earth:
            earthed_ = sprung_ = false;
            return switch_clamps();
        case Action::close_shutter:
        case Action::open_shutter:
            shutter_closed_ = command.action == Action::close_shutter;
            return begin_stretch(clamps_go_on());
    }
    return Done{};
}

Result<Done> SimulatedBench::lay_on_source() {
    if (laid_on_ || !interlock_closed_ || tripped_) return Done{};
    if (earthed_) {
        tripped_ = true;
        return Done{};
    }
    ++times_on_;
    watching_ = false;
    laid_on_ = true;
    const lanes::Stream draws{seed_, setting_draws};
    double off = 0;
    lanes::draw_normal(draws, static_cast<std::uint64_t>(times_on_), 0, simulation_.source.setting_sd_V,
                       {&off, 1});
    given_V_ = set_V_ + off;
    for (std::size_t i = 0; i < faults_.size(); ++i)
        if (faults_[i].output_on == times_on_) {
            const Ns at = std::llround((moment_s_ + faults_[i].after_s) * 1e9);
            if (faults_[i].after_s > 0)
                schedule(at, FaultEdge{i, true});
            else if (auto begun = fault_edge({i, true}); !begun)
                return begun;
        }
    if (auto hung = rehang(); !hung) return hung;
    return switch_clamps();
}

void SimulatedBench::take_off_source() {
    if (!laid_on_) return;
    note_release();
    laid_on_ = false;
}

Result<Done> SimulatedBench::fault_edge(const FaultEdge& edge) {
    const plan::SimulatedFault& fault = faults_[edge.fault];
    lasting_[edge.fault] = edge.begins;
    if (edge.begins) {
        seen_.push_back({fault.kind, moment_s_, {}});
        if (fault.for_s)
            schedule(std::llround((moment_s_ + *fault.for_s) * 1e9),
                     FaultEdge{edge.fault, false, seen_.size() - 1});
    } else {
        seen_[edge.seen].to_s = moment_s_;
    }
    switch (fault.kind) {
        case FaultKind::interlock_opens:
            interlock_closed_ = !edge.begins;
            if (edge.begins) take_off_source();
            return switch_clamps();
        case FaultKind::source_trips:
            if (!edge.begins) return Done{};
            tripped_ = true;
            take_off_source();
            return switch_clamps();
        case FaultKind::source_sags:
        case FaultKind::forgotten_resistor:
            return switch_clamps();
        case FaultKind::slips_out:
            slipped_ = edge.begins;
            return rehang();
        case FaultKind::sensor_drifts:
            drift_from_s_ = moment_s_;
            return Done{};
        default:
            return Done{};
    }
}

Result<Done> SimulatedBench::switch_clamps() {
    const plan::SimulatedSource& source = simulation_.source;
    double target_V = 0, constant_s = source.bleed_ohm * source.capacitance_F;
    if (sprung_) {
        target_V = given_V_;
        constant_s = source.fall_s;
    } else if (earthed_) {
        const plan::SimulatedFault* forgotten = on(FaultKind::forgotten_resistor);
        constant_s = forgotten ? forgotten->amount * source.capacitance_F : source.fall_s;
    } else if (laid_on_) {
        const plan::SimulatedFault* sag = on(FaultKind::source_sags);
        target_V = given_V_ * (1 - (sag ? sag->amount : 0));
        constant_s = source.rise_s;
    }
    const double now_V = clamp_V();
    std::vector<ExponentialPart> parts;
    if (target_V != 0) parts.push_back({target_V, 0});
    if (now_V != target_V && constant_s > 0) parts.push_back({now_V - target_V, 1 / constant_s});
    return begin_stretch(parts);
}

double SimulatedBench::clamp_V() const {
    return voltage(clamps_.parts, moment_s_ - stretch_from_s_);
}

double SimulatedBench::true_reading_V() const {
    return clamped_->reading_V().at(moment_s_ - stretch_from_s_);
}

std::vector<ExponentialPart> SimulatedBench::clamps_go_on() const {
    return clamps_.after(moment_s_ - stretch_from_s_).parts;
}

Result<Done> SimulatedBench::begin_stretch(const std::vector<ExponentialPart>& clamp_V) {
    const double t = moment_s_ - stretch_from_s_;
    // What has died away is no part of it any more.
    std::vector<ExponentialPart> lasting;
    for (const ExponentialPart& part : clamp_V)
        if (std::abs(part.amplitude_V) > 1e-9) lasting.push_back(part);
    const double shown_V = sensed_.at(t);
    if (auto turned = clamped_->turn(t, lasting); !turned) return turned;
    show(std::move(lasting), shown_V);
    return Done{};
}

void SimulatedBench::show(std::vector<ExponentialPart> clamp_V, double shown_V) {
    clamps_ = {};
    clamps_.parts = std::move(clamp_V);
    stretch_from_s_ = moment_s_;
    const Stretch& reading = clamped_->reading_V();
    const Stretch seen = shutter_closed_ ? Stretch{reading.length_s, {}, {}} : reading;
    sensed_ = seen.lagged(lag_s_, shown_V);
}

void SimulatedBench::record_until(double to_s) {
    const plan::SimulatedFault* clip = on(FaultKind::sensor_clips);
    const plan::SimulatedFault* drift = on(FaultKind::sensor_drifts);
    for (Channel* channel : {&specimen_, &electrode_}) {
        const bool specimen = channel == &specimen_;
        scratch_.clear();
        for (;; ++channel->next) {
            const double at_s = static_cast<double>(channel->next) / simulation_.rate_Hz - channel->delay_s;
            if (!(at_s < to_s)) break;
            const double t = std::max(0.0, at_s - stretch_from_s_);
            double value = (specimen ? sensed_ : clamps_).at(t);
            if (specimen && drift) value += drift->amount * std::max(0.0, at_s - drift_from_s_);
            scratch_.push_back(value);
        }
        if (scratch_.empty()) continue;
        channel->recorder.record(scratch_, specimen && clip ? std::optional(clip->amount) : std::nullopt);
        channel->waiting.insert(channel->waiting.end(), scratch_.begin(), scratch_.end());
    }
}

double SimulatedBench::delay_of_command_s(Action action) const {
    const plan::SimulatedFault* late = on(FaultKind::commands_late);
    double out = late ? late->amount : 0;
    const bool switches = action == Action::output_on || action == Action::output_off ||
                          action == Action::earth_clamps || action == Action::lift_earth;
    if (!switches) return out;
    out += simulation_.source.relay_s;
    // What is commanded in one moment moves in one moment.
    double part = 0;
    lanes::add_uniform({seed_, relay_draws}, static_cast<std::uint64_t>(now_ns_), 1, {&part, 1});
    return out + simulation_.source.relay_scatter_s * part;
}

const plan::SimulatedFault* SimulatedBench::on(FaultKind kind) const {
    for (std::size_t i = 0; i < faults_.size(); ++i)
        if (lasting_[i] && faults_[i].kind == kind) return &faults_[i];
    return nullptr;
}

State SimulatedBench::read_back(plan::Readback which, bool truth) const {
    for (std::size_t i = 0; i < faults_.size(); ++i) {
        if (!lasting_[i] || faults_[i].kind != FaultKind::readback_wrong || faults_[i].readback != which)
            continue;
        if (!faults_[i].shows) return State::unread;
        return *faults_[i].shows ? State::yes : State::no;
    }
    return truth ? State::yes : State::no;
}

}  // namespace ebbtide::bench
