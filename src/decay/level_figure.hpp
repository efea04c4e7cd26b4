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
};

[[nodiscard]] LevelFigure level_figure(const plan::Level& level, const FallContext& context);

}  // namespace ebbtide::decay
