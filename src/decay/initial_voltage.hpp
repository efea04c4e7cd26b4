#pragma once
// Where the decay starts: zero and initial voltage V0, by the stated basis.

#include <optional>
#include <string>
#include <vector>

#include "decay/figures.hpp"
#include "decay/release.hpp"
#include "decay/run_phases.hpp"

namespace ebbtide::decay {

struct Zero {
    double V = 0;    ///< as sensed
    double u_V = 0;  ///< from noise and, where unproven, from what the method allows as residual
    double degrees_of_freedom = 0;
    bool proven = false;
    bool seen = false;        ///< there is a quiet stretch before the charge
    double u_residual_V = 0;  ///< the part of u_V that covers a residual on the specimen
};

[[nodiscard]] Zero zero_of(const RunTrace& run, const RunPhases& phases, const plan::DecayRules& rules,
                           const std::optional<plan::Bench>& bench);

struct InitialVoltage {
    std::optional<double> V;  ///< after zero and sign
    double u_V = 0;           ///< without the zero's share, which would count twice
    bool own = true;          ///< read in this run; else stated, or read in a run without specimen
    double from_s = 0, to_s = 0;
    bool steady = true;
    double drift_V = 0;
    bool hidden_by_noise = false;  ///< there is none because noise hides where the hold ends
    std::string missing;           ///< why there is none
    // how the noise of specimen samples [first, first + weights.size()) moves V0 (after sign)
    std::size_t first = 0;
    std::vector<double> weights;
};

[[nodiscard]] InitialVoltage initial_voltage_of(const RunTrace& run, const RunPhases& phases,
                                                const Release& release, const Zero& zero,
                                                const plan::DecayRules& rules,
                                                const std::optional<ReferenceLevel>& reference = {});

}  // namespace ebbtide::decay
