#pragma once
// The decay time to one level, with its budget.

#include "decay/crossing.hpp"
#include "decay/figures.hpp"
#include "decay/initial_voltage.hpp"
#include "decay/release.hpp"
#include "decay/run_phases.hpp"

namespace ebbtide::decay {

/// What every level of a run shares.
struct FallContext {
    const RunPhases& phases;
    const Release& release;
    const Zero& zero;
    const InitialVoltage& initial;
    const plan::DecayRules& rules;
    const std::optional<plan::Bench>& bench;
    trace::Samples specimen;     ///< the whole run as sensed
    trace::Samples fall;         ///< volts after zero and sign, seconds from the release
    std::size_t fall_first = 0;  ///< index in `specimen` of the first sample of `fall`
    double usable_from_s = 0;    ///< after the release: the electrode has come to rest
    double resolution_s = 0;
    double end_V = 0;  ///< at the end of the record
    /// Where the fall starts: V0, and what the run itself shows where V0 is stated or read in another run.
    double start_V = 0;
};

/// Of the time constant: a wider uncertainty is no longer described by slope and curvature at the crossing.
inline constexpr double widest_share = 0.45;

/// The level stands in volts, not relative to a voltage that the same sensor read.
[[nodiscard]] bool stated_in_volts(const plan::Level& level, const FallContext& context);

/// By what the lines in volts together leave the level open, at this crossing.
[[nodiscard]] double u_in_volts(const std::vector<Contribution>& budget, const Crossing& crossing);

[[nodiscard]] LevelFigure with_status(LevelFigure figure, LevelStatus status, std::string reason);

/// The decay time to a level: from the release, or from the start level of the rules where they name one.
[[nodiscard]] LevelFigure level_figure(const plan::Level& level, const FallContext& context);

}  // namespace ebbtide::decay
