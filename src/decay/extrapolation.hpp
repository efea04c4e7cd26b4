#pragma once
// Decay times that the record does not reach: what a law, and all laws together, say of them.

#include <optional>
#include <vector>

#include "decay/law_choice.hpp"
#include "decay/law_figures.hpp"
#include "plan/level.hpp"

namespace ebbtide::decay {

/// The voltage of which levels are a fraction.
struct StartLevel {
    std::optional<double> V = {};  ///< measured; nothing: the law's own value at the release
    double u_V = 0;                ///< its standard uncertainty, the zero's share excluded
};

struct Extrapolation {
    std::vector<std::vector<Extrapolated>> by_model;  ///< as LawChoice::models; empty for a fit that failed
    /// Over the models by their weights (LawModel::weight). Each contributes the whole shape of its profile,
    /// not its interval alone: the chance that the level lies before t is the weighted mean of what the
    /// models say of t, and its 2.5, 50 and 97.5 % are the three times (Fletcher and Turek, J. Agric. Biol.
    /// Environ. Stat. 17 (2012) 38, from memory). The median, because a law under which the level may never
    /// be reached has no mean.
    std::vector<Extrapolated> averaged;
};

/// For every level that the curve does not reach and stay under before its end (others are left out): whether
/// it does is read from a line through its last twentieth. Times from x = 0. Ends of intervals by profile
/// likelihood (fit/passage.hpp): the law is held to pass through the level at that time, and everything else
/// gives way, until the sum of squares has risen by as much as chance allows. A measured start adds what it
/// is known to. Curves below zero are mirrored.
///
/// Where the parts of a sum of exponentials are not told apart, parts of the wrong sign are noise that was
/// fitted; what is said here leaves them out.
///
/// Limits. Only the candidates can speak: if none resembles the truth beyond the record, no interval holds.
/// The zero is taken as known. Sums of few exponentials fall faster beyond the record than a power law that
/// they match within it: where both have weight the median lies too early and the interval leans on its late
/// end. A model's interval alone takes its law for true.
///
/// `curve` is what `choice` was made from, less the samples that no model was fitted to.
[[nodiscard]] Extrapolation extrapolate(const LawChoice& choice, const fit::Curve& curve,
                                        const std::vector<plan::Level>& levels, const StartLevel& start);

}  // namespace ebbtide::decay
