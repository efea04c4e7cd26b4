#pragma once
// The chance of a wrong statement on a lot, where the history of its material says what lots there are (JCGM
// 106:2012, clause 9, with a lot in the place of an item: its true value is the time that a stated share of
// it does not exceed, its measurement is the sample).

#include <optional>
#include <span>

#include "stats/censored.hpp"
#include "stats/tolerance.hpp"

namespace ebbtide::stats {

/// What earlier lots say of the next one. Logarithms of times are normal within a lot; so are the lots' means
/// over lots.
struct LotHistory {
    double mean = 0;     ///< of ln t, over lots
    double between = 0;  ///< standard deviation of a lot's mean about it; > 0
    double within = 0;   ///< standard deviation within a lot; > 0
    /// Of `within`, which is then one estimate of what all lots share (sigma^2 within^2 df/chi^2); absent:
    /// known.
    std::optional<double> degrees_of_freedom = {};
};

/// One earlier lot: specimens, mean and variance (n - 1) of the logarithms of their times.
struct LotSummary {
    double n = 0, mean = 0, variance = 0;
};

/// By one-way analysis of variance. `between` is that of the next lot: it holds how well the mean is known,
/// so that lots that seem all alike do not promise that the next one is. Absent: fewer than three lots, or
/// nothing to tell the spread within a lot by.
[[nodiscard]] std::optional<LotHistory> history_of(std::span<const LotSummary> lots);

/// Probability that `claim.share` of the lot lies within `limit_s`, after its sample, given its history.
/// `sample` passes check(). By quadrature, to 1e-4.
[[nodiscard]] double probability_conforming(const LotHistory& history, std::span<const Observation> sample,
                                            double limit_s, double share);

/// The same where nothing is known of other lots, of a sample that is all measured: the confidence at which
/// the one-sided tolerance bound just meets the limit. `mean` and `s` > 0 are of n >= 2 logarithms.
[[nodiscard]] double confidence_conforming(double mean, double s, int n, double log_limit, double share);

/// Shares of all lots of the history, 0 to 1, before a sample of n specimens is tested.
struct GlobalLotRisk {
    double conforming = 0;       ///< lots of which the claim is true
    double shown = 0;            ///< lots of which it would be shown
    double refuted = 0;          ///< and refuted
    double consumer = 0;         ///< shown, and not true
    double producer = 0;         ///< refuted, and true
    double open_conforming = 0;  ///< neither, and true
};
/// Of the rule of showing_of(). By quadrature, to 1e-4; n >= 2.
[[nodiscard]] GlobalLotRisk global_lot_risk(const LotHistory& history, int n, double limit_s,
                                            const Claim& claim);

}  // namespace ebbtide::stats
