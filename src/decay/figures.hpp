#pragma once
// Decay figures of one run: zero, release, initial voltage, decay times, each with its uncertainty.

#include <optional>
#include <string>
#include <vector>

#include "decay/budget.hpp"
#include "decay/law_figures.hpp"
#include "decay/monte_carlo_time.hpp"
#include "plan/bench.hpp"
#include "plan/flag.hpp"
#include "plan/method.hpp"
#include "plan/order.hpp"
#include "trace/samples.hpp"

namespace ebbtide::decay {

/// Closed list. `measured` gives a decay time, and so does `extrapolated`, which only a method that allows it
/// brings about; `below_resolution` an upper bound; `not_reached` the length of the record as a lower bound,
/// which never becomes a number in a mean that passes.
enum class LevelStatus { measured, not_reached, below_resolution, too_noisy, extrapolated, refused };
[[nodiscard]] std::string_view name_of(LevelStatus status);

/// Where the release time comes from, best first; field_step where a step starts the clock instead.
enum class ReleaseSource { electrode_fall, marker, change_point, record_start, field_step };
[[nodiscard]] std::string_view name_of(ReleaseSource source);

struct LevelFigure {
    plan::Level level;
    double level_V = 0;  ///< after zero and sign: positive for a fraction of V0
    LevelStatus status = LevelStatus::refused;
    std::string reason;                        ///< why there is no decay time; empty when measured
    std::optional<double> decay_s;             ///< measured or extrapolated
    std::optional<double> u_decay_s;           ///< standard uncertainty of decay_s
    std::optional<double> degrees_of_freedom;  ///< effective, of u_decay_s; absent when infinite
    std::optional<double> last_crossing_s;     ///< when the curve itself came back: the last crossing
    std::optional<double> at_least_s;          ///< not_reached: the record shows this much
    std::optional<double> at_most_s;           ///< below_resolution: upper bound
    std::vector<Contribution> budget;          ///< of decay_s; largest first
    /// Measured only: how the time moves when the level does. Not part of the record.
    LocalFall local_fall = {};
    /// The same budget by Monte Carlo; nothing until it was asked for.
    std::optional<MonteCarloTime> monte_carlo = {};
    /// extrapolated only: what the laws say, where the method allows that.
    std::optional<Extrapolated> beyond = {};
};

/// All voltages in volts; after zero and sign unless said otherwise.
struct Figures {
    plan::Polarity polarity = plan::Polarity::positive;
    double release_s = 0;  ///< on the recording's axis
    double u_release_s = 0;
    ReleaseSource release_source = ReleaseSource::change_point;
    std::optional<double> release_delay_s;  ///< mean delay of the electrode's own fall
    std::optional<double> charging_s;       ///< from the start of the charge to the release
    double zero_V = 0;                      ///< as sensed, before the sign
    double u_zero_V = 0;
    std::optional<double> initial_voltage_V;  ///< V0
    double u_initial_voltage_V = 0;
    std::optional<double> residual_V;   ///< uncharged specimen, clamps earthed, minus zero; before the sign
    std::optional<double> held_V;       ///< what the specimen was seen to hold, whatever the basis of V0
    std::optional<double> electrode_V;  ///< mean over the same window, signed
    std::optional<double> accepted_fraction;   ///< held_V over electrode voltage
    std::optional<double> accepted_charge;     ///< accepted fraction less the induced fraction
    std::optional<double> prompt_drop;         ///< fall within the electrode's own fall time, over held_V
    std::optional<double> remaining_fraction;  ///< v at the end of the record over V0
    double record_s = 0;                       ///< from the release to the end of the record
    double noise_V = 0;                        ///< standard deviation of one sample
    double noise_correlation_s = 0;            ///< correlation time of the noise; 0 when white
    double resolution_s = 0;                   ///< shorter decay times are below resolution
    // Where a law may be fitted; not part of the record:
    double fall_from_s = 0;   ///< after the release: the electrode has come to rest
    double fall_scale_s = 0;  ///< time in which the voltage falls by a factor e, roughly
    std::vector<LevelFigure> levels;
    std::optional<LawFigures> law = {};  ///< nothing until it was asked for
    std::vector<plan::Flag> flags;
};

/// One run cut from a recording, in volts; times on the recording's axis.
struct RunTrace {
    trace::Samples specimen;                  ///< sensed specimen voltage, before zero and sign
    std::optional<trace::Samples> electrode;  ///< sensed voltage of the clamps, or of the field electrode
    std::optional<trace::Samples> marker;     ///< any unit: its step is the release
    // As the cutter saw it on the drive channel (the specimen where a field step starts the clock, else the
    // electrode where there is one):
    bool starts_charged = false;  ///< no charging side was recorded
    double sign = 1;              ///< of the excursion
    double base = 0;              ///< level before the charge
    double height = 0;            ///< largest distance from the base
    double charge_start_s = 0;    ///< early rather than late
    double last_high_s = 0;       ///< last sample near the plateau
    double first_low_s = 0;       ///< first clearly below it; the end of the record when it never was
};

/// What the fixture reads without specimen, from a run of its own: V0 of the runs that refer to it.
struct ReferenceLevel {
    double V = 0;    ///< after zero and sign
    double u_V = 0;  ///< its zero included
};

/// Computes the figures of a run. Pure: the same inputs give the same bits. `bench` absent: gain 1, no lag,
/// no induced fraction, and a flag that says so. Never fails: what cannot be had is absent, with a status or
/// flag that says why. `reference` is V0 where the basis is without_specimen and the method states none.
[[nodiscard]] Figures figures_of(const RunTrace& run, const plan::DecayRules& rules,
                                 const std::optional<plan::Bench>& bench,
                                 const std::optional<ReferenceLevel>& reference = {});

/// Problems of rules that no run could cure, e.g. a level of zero without a floor. Empty when there are none.
/// A basis without_specimen may do without a stated voltage: then it is read in a reference run.
[[nodiscard]] std::vector<std::string> problems_of(const plan::DecayRules& rules);

}  // namespace ebbtide::decay
