#include "plan/flag.hpp"

#include <algorithm>

namespace ebbtide::plan {
namespace {

using enum FlagCode;
using enum Consequence;

constexpr std::array<FlagFacts, flag_count> table{{
    {no_decay, "no_decay", note, "The recording holds no fall from a charge."},
    {values_missing, "values_missing", warn,
     "Cells of the recording hold no finite number; those samples are left out."},
    {time_gap, "time_gap", warn, "Samples are missing: the time steps over a gap."},
    {time_ran_backwards, "time_ran_backwards", warn, "Time runs backwards; the recording was cut there."},
    {time_repeated, "time_repeated", warn, "Several samples carry the same time."},
    {torn_last_line, "torn_last_line", warn,
     "The last line of the recording is incomplete and was left out."},
    {recording_damaged, "recording_damaged", warn,
     "Bytes of the recording are damaged or missing; samples beside them may be lost."},
    {torn_tail, "torn_tail", warn, "The recording was never closed: its end may be missing."},
    {samples_lost, "samples_lost", warn,
     "A live line brought more than was read in time: samples are missing."},
    {clipped, "clipped", void_run,
     "The sensor or the recorder reached its full scale; the true voltage is unknown."},
    {clipping_suspected, "clipping_suspected", warn,
     "The plateau is one flat value while the rest of the record carries noise: the recorder may have "
     "clipped."},
    {spikes, "spikes", warn, "Single samples stand far off their neighbours."},
    {zero_unproven, "zero_unproven", warn,
     "The zero was not taken in a proven zero state (sensor facing an earthed plate or a closed shutter)."},
    {zero_outside_limit, "zero_outside_limit", void_run, "The zero lies outside the limit of the method."},
    {residual_high, "residual_high", void_run,
     "The uncharged specimen read more than the method allows before charging."},
    {starts_in_hold, "starts_in_hold", warn,
     "The recording starts while the specimen is already charged: no zero before it."},
    {starts_at_release, "starts_at_release", warn,
     "The recording starts at or after the release: no hold to take V0 from."},
    {release_unseen, "release_unseen", note,
     "Neither the electrode voltage nor a release marker was recorded: the release is the change point of "
     "the specimen voltage."},
    {electrode_unseen, "electrode_unseen", warn,
     "The electrode voltage was not recorded: the method's charging voltage was taken for it."},
    {release_slow, "release_slow", warn,
     "The electrode falls slowly: its mean delay exceeds 2 % of a decay time."},
    {release_bounce, "release_bounce", warn, "The electrode voltage came back after the release began."},
    {curve_waits, "curve_waits", warn,
     "The curve waits before it falls: its change point cannot show the release."},
    {charge_not_accepted, "charge_not_accepted", fail_specimen,
     "The specimen did not accept the initial voltage that the method asks for."},
    {charging_voltage_off, "charging_voltage_off", void_run,
     "The electrode voltage is outside the tolerance of the method."},
    {hold_unsteady, "hold_unsteady", warn,
     "The voltage was not steady over the window in which V0 is taken."},
    {hold_differs, "hold_differs", warn, "The charging time is not the one that the method asks for."},
    {hold_short, "hold_short", warn,
     "The hold is shorter than five times the time constant of the fall: the specimen was not charged "
     "evenly."},
    {induced_not_charged, "induced_not_charged", void_run,
     "The reading was mostly induced by the clamps: the specimen hardly took charge, and its fall is no "
     "decay."},
    {induced_unknown, "induced_unknown", note,
     "The induced fraction of the fixture is not known: a specimen that took no charge cannot be told from a "
     "fast decay."},
    {interrupted, "interrupted", warn,
     "The voltage jumped during the fall, as when a shutter closes or the specimen is neutralised: the "
     "record is taken to end there."},
    {crosses_again, "crosses_again", warn, "The curve came back above a level after crossing it."},
    {lag_large, "lag_large", warn, "The sensor's lag is more than a tenth of a decay time."},
    {noise_unresolved, "noise_unresolved", note,
     "The noise was smaller than the step of the recorded values; the step stands in for it."},
    {no_law, "no_law", note, "None of the laws describes the fall within its noise."},
    {sides_differ, "sides_differ", warn,
     "The charging side does not mirror the fall: a clamp slips, or the conduction depends on the field."},
    {first_order_unfit, "first_order_unfit", warn,
     "The first-order budget and its Monte Carlo calculation give different intervals."},
    {bench_unknown, "bench_unknown", note,
     "No bench file: gain, lag, linearity and induced fraction are not considered."},
    {calibration_expired, "calibration_expired", warn,
     "A calibration was out of date on the day of the test."},
    {bench_check_stale, "bench_check_stale", warn,
     "The run rests on no opening check of the bench that was still good at the time."},
    {bench_check_failed, "bench_check_failed", void_run,
     "The bench check before the run had failed, or the run is itself a check that failed."},
    {bench_check_held, "bench_check_held", void_run,
     "The closing check after the run failed: the result is held until the cause is found."},
    {conditions_unknown, "conditions_unknown", warn,
     "Relative humidity or temperature of the test is not recorded."},
    {conditions_outside, "conditions_outside", void_run,
     "Relative humidity or temperature is outside the method's tolerance."},
    {conditioning_short, "conditioning_short", void_run,
     "The specimen was conditioned for less time than the method asks for."},
    {polarity_differs, "polarity_differs", void_run,
     "The recorded polarity is not the one that the plan names."},
    {run_missing, "run_missing", void_run, "A run of the plan was not recorded."},
    {run_unplanned, "run_unplanned", note,
     "The recording holds a run that the plan does not name; it does not count."},
    {run_repeated, "run_repeated", void_run,
     "The run has the very samples of another run: it is the same run twice."},
    {set_aside, "set_aside", void_run, "A person set this run aside and gave the cause."},
    {retested, "retested", note,
     "This run repeats another, for a cause recorded before the result was known."},
}};

constexpr bool in_order() {
    for (std::size_t i = 0; i < table.size(); ++i)
        if (static_cast<std::size_t>(table[i].code) != i) return false;
    return true;
}
static_assert(in_order(), "one row a code, in the order of FlagCode");

constexpr std::array<std::string_view, 4> consequence_names{"note", "warn", "fail_specimen", "void_run"};

}  // namespace

const FlagFacts& facts(FlagCode code) {
    return table[static_cast<std::size_t>(code)];
}

std::optional<FlagCode> flag_named(std::string_view name) {
    for (const FlagFacts& row : table)
        if (row.name == name) return row.code;
    return {};
}

std::string_view name_of(Consequence consequence) {
    return consequence_names[static_cast<std::size_t>(consequence)];
}

std::string in_words(std::string_view name) {
    std::string words(name);
    std::ranges::replace(words, '_', ' ');
    return words;
}

std::optional<Consequence> consequence_named(std::string_view name) {
    for (std::size_t i = 0; i < consequence_names.size(); ++i)
        if (consequence_names[i] == name) return static_cast<Consequence>(i);
    return {};
}

}  // namespace ebbtide::plan
