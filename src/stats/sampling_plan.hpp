#pragma once
// How many specimens, and what a plan accepts: operating characteristics of plans by variables and by
// attributes, the power to show a claim, and what more specimens would settle.

#include <cstdint>
#include <optional>

#include "stats/tolerance.hpp"

namespace ebbtide::stats {

/// A lot is accepted when mean + k s of n specimens (of log times) is not above the limit. The spread of the
/// lot is unknown and normal.
struct VariablesPlan {
    int n = 0;
    double k = 0;
};

/// A lot is accepted when no more than `accepted` of n specimens are over the limit.
struct AttributesPlan {
    int n = 0;
    int accepted = 0;
};

/// Probability that a lot of which a share `beyond` in (0, 1) is over the limit is accepted. Exact, by the
/// noncentral t distribution.
[[nodiscard]] double acceptance(const VariablesPlan& plan, double beyond);
/// The same by the binomial distribution: of a large lot.
[[nodiscard]] double acceptance(const AttributesPlan& plan, double beyond);
/// The same of a lot of `lot` pieces that holds `bad` over the limit (hypergeometric). n <= lot.
[[nodiscard]] double acceptance_of_finite(const AttributesPlan& plan, int bad, int lot);

/// What a plan must do: accept a lot with `good_beyond` over the limit at least with probability `accept`,
/// one with `poor_beyond` at most with probability `wrong`. 0 < good_beyond < poor_beyond < 1.
struct Risks {
    double good_beyond = 0.01, accept = 0.95;
    double poor_beyond = 0.10, wrong = 0.05;
};
/// The plan of fewest specimens that does; absent: it would need more than `most`.
[[nodiscard]] std::optional<VariablesPlan> variables_plan(const Risks& risks, int most = 2000);
[[nodiscard]] std::optional<AttributesPlan> attributes_plan(const Risks& risks, int most = 100'000);

/// Probability that n specimens show the claim (the one-sided tolerance bound does not exceed the limit) of a
/// lot of which a share `beyond` is over it.
[[nodiscard]] double power_to_show(int n, const Claim& claim, double beyond);
/// Fewest specimens that show it at least with probability `power`; absent: the claim is not true of such a
/// lot, or it would take more than `most`.
[[nodiscard]] std::optional<int> specimens_to_show(const Claim& claim, double beyond, double power,
                                                   int most = 2000);

/// What a sample says of a claim.
enum class Showing { shown, open, refuted };
/// shown: the upper bound of the share's quantile, at the claim's confidence, is not above the limit;
/// refuted: its lower bound, at the same confidence, is.
[[nodiscard]] Showing showing_of(double mean, double s, int n, double limit, const Claim& claim);

/// Probabilities of what n + more specimens will say, given what n say now; they sum to 1.
struct Outlook {
    double shown = 0, open = 0, refuted = 0;
    double standard_error = 0;  ///< of each at most, from drawing
};
/// Each further value is drawn from what those before it say of the next (Student's t; no knowledge from
/// elsewhere). The same seed gives the same numbers. n >= 2, s > 0, more >= 1.
[[nodiscard]] Outlook outlook(double mean, double s, int n, double limit, const Claim& claim, int more,
                              std::uint64_t seed);

}  // namespace ebbtide::stats
