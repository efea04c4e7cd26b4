#pragma once
// Tolerance bounds: limits that a stated share of a lot keeps, with a stated confidence. Not to be mixed with
// the uncertainty of a mean, which says nothing of single specimens.

#include <optional>

namespace ebbtide::stats {

/// A share of the lot and how sure one wants to be of it, both in (0, 1): "95/90" is {0.90, 0.95} here, and
/// written "90 % of the lot with 95 % confidence" for people.
struct Claim {
    double share = 0.90;
    double confidence = 0.95;
};

/// k such that mean + k s of n normal values (n >= 2) lies above a share of the population with the stated
/// confidence. Exact: the quantile of the noncentral t distribution over sqrt(n) (e.g. NIST/SEMATECH
/// e-Handbook 7.2.6.3).
[[nodiscard]] double one_sided_factor(int n, const Claim& claim);

/// k such that mean - k s to mean + k s holds a share with the stated confidence. Exact: for every place of
/// the mean the half width that holds the share, averaged by quadrature (e.g. R. E. Odeh, Commun. Stat. B 7
/// (1978) 183, title only seen).
[[nodiscard]] double two_sided_factor(int n, const Claim& claim);

/// The same where the mean is not of the n values that gave s: `degrees_of_freedom` of s, and the mean's
/// variance is s^2 over `effective` values.
[[nodiscard]] double one_sided_factor(double effective, double degrees_of_freedom, const Claim& claim);

}  // namespace ebbtide::stats
