#pragma once
// The bench check: what it must show, the [check] table of a bench file, and what past checks showed.
// docs/formats/bench.md explains every key, docs/formats/bench-check.md the record of a check.

#include <string>
#include <string_view>

#include "basis/instant.hpp"
#include "plan/level.hpp"

namespace ebbtide::plan {

/// What hangs in the clamps instead of a specimen.
enum class Mounted {
    plate,     ///< a metal plate across the clamps: it stands at their voltage
    nothing,   ///< the empty fixture
    standard,  ///< the RC check standard
    blank,     ///< a sheet that conducts nothing
};
inline constexpr Mounted all_mounted[] = {Mounted::nothing, Mounted::standard, Mounted::blank,
                                          Mounted::plate};
/// As documents have it: "plate", "nothing", "standard", "blank".
[[nodiscard]] std::string_view name_of(Mounted mounted);
/// For people, where a specimen's name would stand: "check standard".
[[nodiscard]] std::string_view label_of(Mounted mounted);

/// Tolerances are relative unless the name says otherwise.
struct CheckLimits {
    double valid_h = 0;           ///< an opening check holds for so long
    double voltage_V = 0;         ///< working voltage, a magnitude
    double second_voltage_V = 0;  ///< of the linearity
    double hold_s = 0;            ///< charging time of every step
    double zero_limit_V = 0;
    double span_tolerance = 0;       ///< plate on the clamps: its reading over the electrode's, from 1
    double linearity_tolerance = 0;  ///< the same ratio at the second voltage over that at the first, from 1
    double induced_tolerance = 0;    ///< empty fixture: absolute, from the fraction that the bench states
    Level standard_level = {};       ///< of the check standard
    double standard_decay_s = 0;     ///< its known decay time to this level
    double standard_tolerance = 0;
    double polarity_tolerance = 0;  ///< between its decay times of both polarities
    double blank_accepted_most =
        0;  ///< insulating blank: accepted charge over clamp voltage, less the induced
};

/// A check that was made, or a person's leave to work without a good one.
struct BenchCheck {
    enum class Kind { opening, closing, override_ } kind = Kind::opening;
    std::string file;  ///< in the order's folder
    Instant at;        ///< when it ended
    bool good = false;
    std::string who;
    std::string reason;  ///< of an override; of a check that is not good, what it failed on
};

}  // namespace ebbtide::plan
