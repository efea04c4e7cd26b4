#pragma once
// Plots of a lot: its times against a lognormal law, and what sampling plans accept.

#include <optional>
#include <span>
#include <string>
#include <vector>

#include "report/picture.hpp"
#include "stats/censored_fit.hpp"

namespace ebbtide::report {

/// A bound to be marked: the share of the lot that is said to take at most so long.
struct MarkedBound {
    double share = 0;
    double upper_s = 0;
    std::string words = {};  ///< "90 % of the lot, with 95 % confidence"
};

/// Times on a logarithmic scale against the share of the lot that takes at most so long, on the scale on
/// which a lognormal law is a straight line. Discs: known exactly, at the middle of their step; open discs
/// with a line to the right: longer than that; bars: between two bounds, or (from the left edge) shorter than
/// that. The law, the limit and the bound are drawn where they are given. `sample` passes stats::check().
[[nodiscard]] Picture probability_plot(std::span<const stats::Observation> sample,
                                       const stats::CensoredFit& lognormal, std::optional<double> limit_s,
                                       const std::optional<MarkedBound>& bound, double width);

/// How surely a plan accepts lots, against the share of the lot over the limit.
struct OcCurve {
    std::string name;
    std::vector<double> beyond, accepted;  ///< of one length; shares and probabilities
};
/// `marked` are shares with a meaning (of the good lot, of the poor one). The first curve is drawn in full,
/// the second dashed.
[[nodiscard]] Picture oc_plot(std::span<const OcCurve> curves, std::span<const double> marked, double width);

}  // namespace ebbtide::report
