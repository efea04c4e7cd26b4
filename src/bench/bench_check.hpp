#pragma once
// The bench check: what is mounted, what is run, and what the readings must be. Pure.

#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "bench/guarded_run.hpp"
#include "plan/bench.hpp"

namespace ebbtide::bench {

using plan::Mounted;
/// What the person is asked to do.
[[nodiscard]] std::string_view words_of(Mounted mounted);

struct CheckStep {
    Mounted mounted = Mounted::plate;
    plan::Polarity polarity = plan::Polarity::positive;
    bool second_voltage = false;
    bool mount = false;  ///< something else hangs there than in the step before
    RunAim aim = {};
};
/// Plate at the working and the second voltage, empty fixture, check standard, blank; both polarities each.
[[nodiscard]] std::vector<CheckStep> steps_of(const plan::CheckLimits& limits);

/// What a step's run showed. Volts on the electrode's side, less zero.
struct CheckReading {
    CheckStep step;
    double zero_V = 0;
    double held_V = 0;
    double electrode_V = 0;
    std::optional<double> decay_s = {};  ///< of the standard, to the level of the limits
};

/// One figure of the check with the limits that it must keep, both included.
struct CheckFigure {
    std::string name;  ///< zero, span, linearity, induced_fraction, standard_decay, standard_polarity,
                       ///< blank_accepted
    std::optional<plan::Polarity> polarity = {};
    std::string unit;             ///< "V", "s", "" for a ratio
    std::optional<double> value;  ///< absent: could not be taken
    double least = 0, most = 0;
    [[nodiscard]] bool within() const { return value && *value >= least && *value <= most; }
    /// "span +: 1.034, from 0.98 to 1.02".
    [[nodiscard]] std::string words() const;
};
/// Every figure of a whole check, whether or not its run was made: one that is missing is not within. Zero is
/// the largest of all steps.
[[nodiscard]] std::vector<CheckFigure> figures_of(const std::vector<CheckReading>& readings,
                                                  const plan::Bench& bench, const plan::CheckLimits& limits);

}  // namespace ebbtide::bench
