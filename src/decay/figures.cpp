#include "decay/figures.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "basis/number_text.hpp"
#include "decay/field_step.hpp"
#include "decay/initial_voltage.hpp"
#include "decay/level_figure.hpp"
#include "decay/local_parabola.hpp"
#include "decay/plateau.hpp"
#include "decay/release.hpp"
#include "decay/run_phases.hpp"

namespace ebbtide::decay {
namespace {

using plan::FlagCode;

std::string volts(double value) {
    return significant_text(value, 4) + " V";
}
std::string seconds(double value) {
    return significant_text(value, 3) + " s";
}

void flag_release(Figures& figures, const Release& release) {
    const auto raise = [&](FlagCode code, std::string message) {
        figures.flags.emplace_back(code, std::move(message));
    };
    if (release.source == ReleaseSource::record_start)
        raise(FlagCode::starts_at_release,
              "The record falls from its first sample on; V0 is the curve carried back to it.");
    if (release.source == ReleaseSource::change_point)
        raise(FlagCode::release_unseen,
              fmt::format("Release by change point, u = {}.", seconds(release.u_s)));
    if (release.waits)
        raise(FlagCode::curve_waits,
              "The fall grows steeper after its change point; the release was earlier than the figure says.");
    if (release.bounced)
        raise(FlagCode::release_bounce,
              "The electrode voltage rose above half after it had fallen; the time counts from the first "
              "fall.");
}

void flag_charge(Figures& figures, const RunTrace& run, const std::optional<plan::Bench>& bench) {
    if (!figures.initial_voltage_V) return;
    const auto induced = bench ? bench->induced_fraction(run.sign > 0) : std::nullopt;
    // Only clamps beside the specimen are seen in its place.
    const bool has_clamps = !bench || bench->apparatus == plan::Apparatus::clamp_discharge;
    if (!has_clamps) return;
    if (!induced) {
        figures.flags.emplace_back(FlagCode::induced_unknown,
                                   "No induced fraction of the empty fixture at this polarity.");
    } else if (figures.accepted_fraction) {
        figures.accepted_charge = *figures.accepted_fraction - *induced;
    }
    if (!figures.accepted_fraction || !figures.prompt_drop) return;
    // Without the fixture's figure only the plain case is called: little accepted, and gone with the
    // electrode.
    const bool mostly_induced = induced ? *figures.accepted_charge < 0.5 * *figures.accepted_fraction
                                        : *figures.accepted_fraction < 0.5 && *figures.prompt_drop > 0.5;
    if (mostly_induced)
        figures.flags.emplace_back(
            FlagCode::induced_not_charged,
            fmt::format("Accepted {} % of the electrode voltage, of which {} is induced; {} % fell with the "
                        "electrode.",
                        fixed_text(100 * *figures.accepted_fraction, 1),
                        induced ? fixed_text(100 * *induced, 1) + " %" : std::string("an unknown part"),
                        fixed_text(100 * *figures.prompt_drop, 0)));
}

void flag_clipping(Figures& figures, const RunTrace& run, const RunPhases& phases,
                   const std::optional<plan::Bench>& bench) {
    // A specimen may still be rising when the electrode is not.
    const trace::Samples held =
        run.specimen.between((phases.hold_from_s + phases.hold_to_s) / 2, phases.hold_to_s);
    if (const auto full_V = bench ? bench->sensor.scale.full_scale_V : std::nullopt) {
        const auto clipped =
            std::ranges::count_if(run.specimen.value, [&](double v) { return std::abs(v) >= *full_V; });
        if (clipped > 0) {
            figures.flags.emplace_back(FlagCode::clipped, fmt::format("{} samples at the full scale of {}.",
                                                                      clipped, volts(*full_V)));
            return;
        }
    }
    // Below the full scale that is stated something else may clip.
    if (held.size() < 16) return;
    const auto [low, high] = std::ranges::minmax(held.value);
    NoiseEvidence evidence;
    evidence.fall = run.specimen.between(run.first_low_s, run.specimen.time_s.back());
    evidence.fall_scale_s = phases.fall_scale_s;
    if (low == high && evidence.fall.size() >= 64) {
        const NoiseModel noise = estimate_noise(evidence);
        if (!noise.from_step && noise.sample_V() > 1e-4 * run.height)
            figures.flags.emplace_back(
                FlagCode::clipping_suspected,
                fmt::format("All {} samples of the hold read {}, while the fall carries noise of {}.",
                            held.size(), volts(high), volts(noise.sample_V())));
    }
}

void flag_levels(Figures& figures, const RunPhases& phases, const std::optional<plan::Bench>& bench) {
    for (const LevelFigure& level : figures.levels) {
        if (level.last_crossing_s)
            figures.flags.emplace_back(
                FlagCode::crosses_again,
                fmt::format("Level {}: first crossed after {}, last after {}.", level.level.label(),
                            seconds(*level.decay_s), seconds(*level.last_crossing_s)));
    }
    double shortest_s = 0;
    for (const LevelFigure& level : figures.levels)
        if (level.decay_s && (shortest_s == 0 || *level.decay_s < shortest_s)) shortest_s = *level.decay_s;
    if (shortest_s > 0 && figures.release_delay_s && *figures.release_delay_s > 0.02 * shortest_s)
        figures.flags.emplace_back(
            FlagCode::release_slow,
            fmt::format("Mean delay {}, {} % of the shortest decay time.", seconds(*figures.release_delay_s),
                        fixed_text(100 * *figures.release_delay_s / shortest_s, 1)));
    if (bench && shortest_s > 0 && bench->sensor.lag_s > 0.1 * shortest_s)
        figures.flags.emplace_back(FlagCode::lag_large,
                                   fmt::format("Lag {} against a decay time of {}.",
                                               seconds(bench->sensor.lag_s), seconds(shortest_s)));
    if (figures.charging_s && *figures.charging_s < 5 * phases.fall_scale_s && shortest_s > 0)
        figures.flags.emplace_back(FlagCode::hold_short,
                                   fmt::format("Charged for {}; the fall takes some {} per factor e.",
                                               seconds(*figures.charging_s), seconds(phases.fall_scale_s)));
}

/// Index of the sample at which the fall jumps: by more than a fiftieth of the height and many times what it
/// did in any two samples just before, noise included. Looked for from as many samples after the voltage was
/// low on. size() when it does not.
std::size_t interruption(const RunTrace& run) {
    constexpr std::size_t memory = 48;
    const std::span<const double> v = run.specimen.value;
    for (std::size_t i = run.specimen.at_or_after(run.first_low_s) + memory; i + 1 < v.size(); ++i) {
        const double jump_V = std::abs(v[i - 1] - v[i + 1]);
        if (jump_V < 0.02 * run.height) continue;
        double before_V = 0;
        for (std::size_t k = i - memory; k + 3 < i; ++k)
            before_V = std::max(before_V, std::abs(v[k] - v[k + 2]));
        if (jump_V > 6 * before_V) return i;
    }
    return v.size();
}

/// What the specimen was seen to hold, whichever voltage the decay levels are taken from: a charge that was
/// never accepted must show under a stated V0 too.
struct Held {
    double V, from_s, to_s;
};
std::optional<Held> held_of(const RunTrace& run, const RunPhases& phases, const InitialVoltage& initial,
                            const Zero& zero) {
    if (initial.V && initial.to_s > initial.from_s) return Held{*initial.V, initial.from_s, initial.to_s};
    const trace::Samples hold = run.specimen.between(phases.hold_from_s, phases.hold_to_s);
    if (initial.own || hold.empty()) return {};
    return Held{run.sign * (mean_of(hold) - zero.V), phases.hold_from_s, phases.hold_to_s};
}

/// Index of the first specimen sample after a field electrode has left the voltage it stepped to: what
/// follows is its return, and no fall of the specimen. size() when it stays, or was not recorded.
std::size_t field_return(const RunTrace& run) {
    if (!run.electrode || run.electrode->size() < 3) return run.specimen.size();
    const trace::Samples field = *run.electrode;
    const double base_V = field.value.front();
    double top_V = 0;
    for (const double v : field.value) top_V = std::max(top_V, std::abs(v - base_V));
    std::size_t i = 0;
    while (i < field.size() && std::abs(field.value[i] - base_V) < 0.9 * top_V) ++i;
    while (i < field.size() && std::abs(field.value[i] - base_V) >= 0.9 * top_V) ++i;
    return i < field.size() ? run.specimen.at_or_after(field.time_s[i]) : run.specimen.size();
}

double prompt_drop(const trace::Samples& fall, double settled_s, double initial_V, double scale_s,
                   double step_s) {
    const double reach_s = std::max(0.1 * scale_s, 4.5 * step_s);
    const auto fit = fit_local_parabola(fall.between(settled_s, settled_s + reach_s), settled_s);
    const double after_V = fit ? fit->value : (fall.empty() ? 0 : fall.value.front());
    return (initial_V - after_V) / initial_V;
}

}  // namespace

std::string_view name_of(LevelStatus status) {
    switch (status) {
        case LevelStatus::measured:
            return "measured";
        case LevelStatus::not_reached:
            return "not_reached";
        case LevelStatus::below_resolution:
            return "below_resolution";
        case LevelStatus::too_noisy:
            return "too_noisy";
        case LevelStatus::extrapolated:
            return "extrapolated";
        case LevelStatus::refused:
            return "refused";
    }
    return "";
}

std::string_view name_of(ReleaseSource source) {
    switch (source) {
        case ReleaseSource::electrode_fall:
            return "electrode_fall";
        case ReleaseSource::marker:
            return "marker";
        case ReleaseSource::change_point:
            return "change_point";
        case ReleaseSource::record_start:
            return "record_start";
        case ReleaseSource::field_step:
            return "field_step";
    }
    return "";
}

Figures figures_of(const RunTrace& recorded, const plan::DecayRules& rules,
                   const std::optional<plan::Bench>& bench, const std::optional<ReferenceLevel>& reference) {
    RunTrace run = recorded;
    const bool stepped = rules.clock == plan::DecayRules::Clock::field_step;
    if (stepped) run.electrode.reset();  // it stays up: the specimen's own voltage tells the phases
    const std::size_t jump =
        std::min(interruption(recorded), stepped ? field_return(recorded) : recorded.specimen.size());
    run.specimen = recorded.specimen.slice(0, jump);
    const RunPhases phases = phases_of(run, !stepped);
    const auto step = stepped ? find_field_step(run, phases, recorded.electrode, bench) : std::nullopt;
    const Release release = step ? *step : find_release(run, phases, bench);
    const Zero zero = zero_of(run, phases, rules, bench);
    InitialVoltage initial = initial_voltage_of(run, phases, release, zero, rules, reference);
    if (stepped && !step) {
        initial.V.reset();
        initial.missing = "the record starts after the step of the field, so that nothing says when it was";
    }

    Figures figures;
    figures.polarity = run.sign < 0 ? plan::Polarity::negative : plan::Polarity::positive;
    figures.release_s = release.time_s;
    figures.u_release_s = release.u_s;
    figures.release_source = release.source;
    figures.release_delay_s = release.delay_s;
    if (!run.starts_charged && !stepped) figures.charging_s = release.time_s - phases.charge_s;
    if (stepped && recorded.electrode) figures.electrode_V = field_height_V(run, phases, *recorded.electrode);
    figures.zero_V = zero.V;
    figures.u_zero_V = zero.u_V;
    figures.initial_voltage_V = initial.V;
    figures.u_initial_voltage_V = initial.u_V;
    figures.noise_V = phases.noise.sample_V();
    figures.noise_correlation_s = phases.noise.correlation_s;
    // Without a second, proven zero the quiet reading before the charge is all that is known of a residual.
    if (zero.seen && !zero.proven) figures.residual_V = zero.V;

    trace::SampleStore store;
    const std::size_t fall_first = step ? peak_of(run, phases, release.time_s)  // what rises is no fall
                                        : run.specimen.at_or_after(release.time_s);
    store.time_s.reserve(run.specimen.size() - std::min(fall_first, run.specimen.size()));
    store.value.reserve(store.time_s.capacity());
    for (std::size_t i = fall_first; i < run.specimen.size(); ++i) {
        store.time_s.push_back(run.specimen.time_s[i] - release.time_s);
        store.value.push_back(run.sign * (run.specimen.value[i] - zero.V));
    }
    const trace::Samples fall = store.view();
    if (jump < recorded.specimen.size())
        figures.flags.emplace_back(
            FlagCode::interrupted,
            fmt::format("From {} to {} within two samples, {} after the release.",
                        volts(recorded.specimen.value[jump - 1]),
                        volts(recorded.specimen.value[std::min(jump + 1, recorded.specimen.size() - 1)]),
                        seconds(recorded.specimen.time_s[jump] - release.time_s)));
    figures.record_s = fall.empty() ? 0 : fall.time_s.back();

    const double sensor_resolution_s = bench ? bench->sensor.resolution_s : 0;
    figures.resolution_s =
        std::max({sensor_resolution_s, 2 * phases.step_s, 3 * release.delay_s.value_or(0)});
    figures.fall_scale_s = phases.fall_scale_s;
    const double settled_s = release.settled_s ? std::max(0.0, *release.settled_s - release.time_s) : 0;
    figures.fall_from_s = fall.empty() ? settled_s : std::max(settled_s, fall.time_s.front());

    const std::size_t tail = std::min(fall.size(), std::max<std::size_t>(5, fall.size() / 20));
    const double end_V = mean_of(fall.slice(fall.size() - tail, fall.size()));
    if (initial.V && !fall.empty()) figures.remaining_fraction = end_V / *initial.V;
    const std::optional<Held> held = stepped ? std::nullopt : held_of(run, phases, initial, zero);
    if (held) figures.held_V = held->V;
    if (run.electrode && held) {
        const trace::Samples window = run.electrode->between(held->from_s, held->to_s + phases.step_s / 2);
        if (!window.empty()) {
            figures.electrode_V = mean_of(window);
            if (*figures.electrode_V != 0)
                figures.accepted_fraction = held->V / (run.sign * *figures.electrode_V);
        }
    }
    if (release.source == ReleaseSource::electrode_fall && held && held->V > 0)
        figures.prompt_drop = prompt_drop(fall, settled_s, held->V, phases.fall_scale_s, phases.step_s);

    // Stated or read in another run, V0 says nothing of where this fall starts.
    const double near_s = fall.empty() ? 0 : fall.time_s.front() + 0.02 * phases.fall_scale_s;
    const double start_V = initial.own || fall.empty()
                               ? initial.V.value_or(0)
                               : mean_of(fall.between(fall.time_s.front(), std::nextafter(near_s, INFINITY)));
    const FallContext context{phases,
                              release,
                              zero,
                              initial,
                              rules,
                              bench,
                              run.specimen,
                              fall,
                              fall_first,
                              settled_s,
                              figures.resolution_s,
                              end_V,
                              start_V};
    for (const plan::Level& level : rules.levels) figures.levels.push_back(level_figure(level, context));

    if (!bench) figures.flags.emplace_back(FlagCode::bench_unknown, "Voltages are as recorded.");
    if (!zero.proven)
        figures.flags.emplace_back(
            FlagCode::zero_unproven,
            zero.seen ? fmt::format("Zero {} taken from the quiet stretch before the charge.", volts(zero.V))
                      : "No quiet stretch before the charge; zero volts taken, it may be off by what is left "
                        "at the end of the record, up to a hundredth of the height.");
    if (run.starts_charged && release.source != ReleaseSource::record_start)
        figures.flags.emplace_back(FlagCode::starts_in_hold, "The charging side was not recorded.");
    if (!initial.steady)
        figures.flags.emplace_back(
            FlagCode::hold_unsteady,
            fmt::format("Changed by {} over the window of V0.", volts(initial.drift_V)));
    if (phases.noise.from_step && phases.noise.sample_V() > 0)
        figures.flags.emplace_back(FlagCode::noise_unresolved,
                                   fmt::format("Step over root twelve: {}.", volts(phases.noise.sample_V())));
    flag_release(figures, release);
    flag_charge(figures, run, bench);
    flag_clipping(figures, run, phases, bench);
    flag_levels(figures, phases, bench);
    return figures;
}

std::vector<std::string> problems_of(const plan::DecayRules& rules) {
    std::vector<std::string> problems;
    for (const plan::Level& level : rules.levels)
        if (level.value == 0 && rules.zero_floor.kind == plan::ZeroFloor::Kind::none)
            problems.push_back("a level of zero needs a stated floor: an exponential never reaches zero");
    const bool nominal = rules.basis == plan::InitialBasis::nominal;
    if ((nominal || rules.stated_initial_V) && !(rules.stated_initial_V.value_or(0) > 0))
        problems.push_back("this basis of the initial voltage needs a stated voltage above zero");
    if (rules.basis == plan::InitialBasis::charging_maximum &&
        !(rules.basis_bandwidth_s && *rules.basis_bandwidth_s > 0))
        problems.push_back(
            "the maximum while charging needs a stated bandwidth: the raw maximum of noise is high");
    return problems;
}

}  // namespace ebbtide::decay
