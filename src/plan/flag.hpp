#pragma once
// Flags: named reasons why a run, a series or an order is not as it should be. The list is closed;
// docs/flags.md explains each. Codes are part of the JSON formats: a code never changes its meaning.

#include <array>
#include <optional>
#include <string>
#include <string_view>

namespace ebbtide::plan {

enum class FlagCode {
    // what the recording shows
    no_decay,
    values_missing,
    time_gap,
    time_ran_backwards,
    time_repeated,
    torn_last_line,
    recording_damaged,
    torn_tail,
    samples_lost,
    clipped,
    clipping_suspected,
    spikes,
    // zero, residual and release
    zero_unproven,
    zero_outside_limit,
    residual_high,
    starts_in_hold,
    starts_at_release,
    release_unseen,
    electrode_unseen,
    release_slow,
    release_bounce,
    curve_waits,
    // charging
    charge_not_accepted,
    charging_voltage_off,
    hold_unsteady,
    hold_differs,
    hold_short,
    induced_not_charged,
    induced_unknown,
    // the fall
    interrupted,
    crosses_again,
    lag_large,
    noise_unresolved,
    no_law,
    sides_differ,
    first_order_unfit,
    // bench, conditions and order
    bench_unknown,
    calibration_expired,
    bench_check_stale,
    bench_check_failed,
    bench_check_held,
    conditions_unknown,
    conditions_outside,
    conditioning_short,
    polarity_differs,
    run_missing,
    run_unplanned,
    run_repeated,
    set_aside,
    retested,
};

/// What follows from a flag, mildest first. A method may set another consequence than the usual one.
enum class Consequence {
    note,           ///< stated, nothing follows
    warn,           ///< stated beside the figure
    fail_specimen,  ///< the run counts as not meeting the requirement
    void_run,       ///< the run does not count
};

struct FlagFacts {
    FlagCode code;
    std::string_view name;  ///< as in JSON, methods and reports
    Consequence usual;
    std::string_view meaning;  ///< one sentence for the person at the bench
};

/// Every flag there is, in the order of FlagCode.
[[nodiscard]] const FlagFacts& facts(FlagCode code);
[[nodiscard]] std::optional<FlagCode> flag_named(std::string_view name);
inline constexpr std::size_t flag_count = static_cast<std::size_t>(FlagCode::retested) + 1;

[[nodiscard]] std::string_view name_of(Consequence consequence);
/// A name of ours as it reads in a sentence: "not_reached" is "not reached".
[[nodiscard]] std::string in_words(std::string_view name);
[[nodiscard]] std::optional<Consequence> consequence_named(std::string_view name);

/// A flag as raised: the code, what follows, and what was seen, with the figures.
struct Flag {
    FlagCode code;
    Consequence consequence;
    std::string message;

    Flag(FlagCode c, std::string m) : code(c), consequence(facts(c).usual), message(std::move(m)) {}
};

}  // namespace ebbtide::plan
