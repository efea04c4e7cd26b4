#pragma once
// A test method: how to test. Types only; paperwork/ reads them from TOML.

#include <map>
#include <optional>
#include <string>
#include <vector>

#include "plan/apparatus.hpp"
#include "plan/flag.hpp"
#include "plan/level.hpp"
#include "plan/sensitivity.hpp"

namespace ebbtide::plan {

/// How decay figures are taken from a run. `measure` uses the defaults; a method sets what it states.
struct DecayRules {
    std::vector<Level> levels;
    InitialBasis basis = InitialBasis::hold_mean;
    std::optional<double>
        basis_window_s;        ///< hold_mean: length of the window; absent: the steady end of the hold
    double basis_guard_s = 0;  ///< hold_mean: the window ends this long before the release
    std::optional<double> basis_bandwidth_s;  ///< charging_maximum: width of the smoothing, stated because
                                              ///< the raw maximum is high
    std::optional<double> stated_initial_V;   ///< nominal and without_specimen
    ZeroFloor zero_floor;                     ///< required when a level is 0
    std::optional<double>
        residual_limit_V;  ///< largest reading of the uncharged specimen; also covers an unproven zero
    std::optional<double> zero_limit_V;
    bool extrapolation_allowed = false;
    /// Decay times count from where the fall passes this level; absent: from the release.
    std::optional<Level> from;
    /// What starts the clock: the release of the clamps, or the step of a field electrode, after which the
    /// specimen's own fall begins at once.
    enum class Clock { release, field_step } clock = Clock::release;
};

struct Tolerance {
    double nominal = 0;
    double plus_minus = 0;
};

struct Conditioning {
    std::optional<Tolerance> relative_humidity_percent;
    std::optional<Tolerance> temperature_C;
    std::optional<double> at_least_h;
    std::optional<double> at_most_h;
};

struct Charging {
    std::optional<Tolerance> voltage_V;       ///< magnitude
    std::optional<double> hold_s;             ///< charging time to the release
    std::optional<double> minimum_initial_V;  ///< below: charge_not_accepted
    std::optional<double>
        minimum_accepted_fraction;      ///< of the electrode voltage; below: charge_not_accepted
    std::string polarities = "either";  ///< "positive", "negative", "both", "either"
};

struct Method {
    std::string id;  ///< "mil-dtl-44031e"
    std::string edition;
    std::string title;
    std::string source;                                ///< where its values come from
    std::string notice;                                ///< that it does not replace the document
    Apparatus apparatus = Apparatus::clamp_discharge;  ///< a trace of another is refused
    Conditioning conditioning;
    Charging charging;
    DecayRules decay;
    /// without_specimen: V0 is what the order's reference run reads, at the same polarity.
    bool reference_run = false;
    Sensitivity sensitivity;              ///< where an item states none of its own
    int specimens = 1;                    ///< at least so many for each direction and state
    int replicates = 1;                   ///< runs per specimen, face, conditions and polarity
    std::vector<std::string> faces;       ///< to be tested, e.g. "front", "back"; empty: as the order says
    std::vector<std::string> directions;  ///< e.g. "warp", "filling"; empty: as the order says
    std::map<FlagCode, Consequence> consequences;  ///< where the method differs from the usual
    std::map<std::string, std::string>
        value_sources;  ///< key of the file -> clause, "secondary summary", "from memory" ...
};

}  // namespace ebbtide::plan
