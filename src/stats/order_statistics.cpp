#include "stats/order_statistics.hpp"

#include <algorithm>
#include <cmath>

#include "stats/distributions.hpp"

namespace ebbtide::stats {
namespace {

/// Least n from `from` on for which a confidence that grows with n is reached.
template <class Confidence>
int least(int from, double wanted, Confidence confidence) {
    int n = from;
    while (confidence(n) < wanted) n *= 2;
    int below = n / 2;
    if (n == from) return n;
    while (n - below > 1) {
        const int middle = below + (n - below) / 2;
        (confidence(middle) < wanted ? below : n) = middle;
    }
    return n;
}

}  // namespace

double confidence_of_largest(int n, double share) {
    return -std::expm1(n * std::log(share));
}

int least_specimens_one_sided(const Claim& claim) {
    return least(1, claim.confidence, [&](int n) { return confidence_of_largest(n, claim.share); });
}

int least_specimens_two_sided(const Claim& claim) {
    return least(2, claim.confidence, [&](int n) {
        return 1 - n * std::pow(claim.share, n - 1) + (n - 1) * std::pow(claim.share, n);
    });
}

std::optional<int> rank_of_upper_bound(int n, const Claim& claim) {
    // The r-th largest lies above the share unless fewer than r values do.
    int rank = 0;
    while (rank < n && 1 - binomial_at_most(rank, n, 1 - claim.share) >= claim.confidence) ++rank;
    if (rank == 0) return {};
    return rank;
}

}  // namespace ebbtide::stats
