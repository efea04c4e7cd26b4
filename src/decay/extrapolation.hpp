#pragma once
// Decay times that the record does not reach: what a law, and all laws together, say of them.

#include <optional>
#include <vector>

#include "decay/law_choice.hpp"
#include "plan/level.hpp"

namespace ebbtide::decay {

/// A decay time beyond the record, with the ends of its 95 % interval.
struct Extrapolated {
    plan::Level level;
    std::optional<double> decay_s = {};  ///< nothing: the law ends above the level
    std::optional<double> low_s = {};    ///< nothing: not even the end of the record is sure to lie before it
    std::optional<double> high_s = {};   ///< nothing: the curve may never get there
};

/// The voltage of which levels are a fraction.
struct StartLevel {
    std::optional<double> V;  ///< measured; nothing: the law's own value at the release
    double u_V = 0;
};

struct Extrapolation {
    std::vector<std::vector<Extrapolated>> by_model;  ///< as LawChoice::models; empty for a fit that failed
    /// Averaged over the models by their weights (LawModel::weight): the mixture of what each allows.
    std::vector<Extrapolated> averaged;
};

/// For every level that the curve does not reach and stay under before its end (others are left out); times
/// from x = 0. Ends of intervals by profile likelihood: the law is held to pass through the level at that
/// time, and everything else gives way, until the sum of squares has risen by as much as chance allows.
/// `curve` is what `choice` was made from.
[[nodiscard]] Extrapolation extrapolate(const LawChoice& choice, const fit::Curve& curve,
                                        const std::vector<plan::Level>& levels, const StartLevel& start);

}  // namespace ebbtide::decay
