#include "stats/sampling_plan.hpp"

#include <cmath>
#include <vector>

#include "lanes/random.hpp"
#include "stats/distributions.hpp"

namespace ebbtide::stats {
namespace {

/// Least n in [from, most] for which something that comes true and stays so is true.
template <class Holds>
std::optional<int> least(int from, int most, Holds holds) {
    int below = from - 1, n = from;
    while (!holds(n)) {
        if (n == most) return {};
        below = n;
        n = std::min(most, 2 * n);
    }
    while (n - below > 1) {
        const int middle = below + (n - below) / 2;
        (holds(middle) ? n : below) = middle;
    }
    return n;
}

/// Factors on s of the upper and of the lower bound of the share's quantile.
struct BoundFactors {
    double upper, lower;
};
BoundFactors factors_of(int n, const Claim& claim) {
    const double root = std::sqrt(static_cast<double>(n));
    return {one_sided_factor(n, claim),
            noncentral_t_quantile(1 - claim.confidence, n - 1, normal_quantile(claim.share) * root) / root};
}

Showing showing_by(const BoundFactors& factors, double mean, double s, double limit) {
    if (mean + factors.upper * s <= limit) return Showing::shown;
    return mean + factors.lower * s > limit ? Showing::refuted : Showing::open;
}

}  // namespace

double acceptance(const VariablesPlan& plan, double beyond) {
    const double root = std::sqrt(static_cast<double>(plan.n));
    return 1 - noncentral_t_below(plan.k * root, plan.n - 1, -normal_quantile(beyond) * root);
}

double acceptance(const AttributesPlan& plan, double beyond) {
    return binomial_at_most(plan.accepted, plan.n, beyond);
}

double acceptance_of_finite(const AttributesPlan& plan, int bad, int lot) {
    return hypergeometric_at_most(plan.accepted, plan.n, bad, lot);
}

std::optional<VariablesPlan> variables_plan(const Risks& risks, int most) {
    // The k that keeps the risk at the poor lot; more specimens then accept the good one more often.
    const auto plan_of = [&](int n) {
        return VariablesPlan{n, one_sided_factor(n, {1 - risks.poor_beyond, 1 - risks.wrong})};
    };
    const auto n = least(
        2, most, [&](int size) { return acceptance(plan_of(size), risks.good_beyond) >= risks.accept; });
    if (!n) return {};
    return plan_of(*n);
}

std::optional<AttributesPlan> attributes_plan(const Risks& risks, int most) {
    for (int accepted = 0; accepted < most; ++accepted) {
        const auto n = least(accepted + 1, most, [&](int size) {
            return acceptance(AttributesPlan{size, accepted}, risks.poor_beyond) <= risks.wrong;
        });
        if (!n) return {};
        const AttributesPlan plan{*n, accepted};
        if (acceptance(plan, risks.good_beyond) >= risks.accept) return plan;
    }
    return {};
}

double power_to_show(int n, const Claim& claim, double beyond) {
    return acceptance(VariablesPlan{n, one_sided_factor(n, claim)}, beyond);
}

std::optional<int> specimens_to_show(const Claim& claim, double beyond, double power, int most) {
    if (beyond >= 1 - claim.share) return {};
    return least(2, most, [&](int n) { return power_to_show(n, claim, beyond) >= power; });
}

Showing showing_of(double mean, double s, int n, double limit, const Claim& claim) {
    return showing_by(factors_of(n, claim), mean, s, limit);
}

Outlook outlook(double mean, double s, int n, double limit, const Claim& claim, int more,
                std::uint64_t seed) {
    constexpr std::size_t trials = 20'000;
    std::vector<double> means(trials, mean), squares(trials, (n - 1) * s * s);
    for (int step = 0; step < more; ++step) {
        const double size = n + step;
        std::vector<double> t(trials, 0.0);
        lanes::add_students_t({seed, static_cast<std::uint64_t>(step)}, 0, size - 1, 1, t);
        for (std::size_t i = 0; i < trials; ++i) {
            // The next value lies t s sqrt(1 + 1/n) from the mean; mean and sum of squares follow.
            const double off = t[i] * std::sqrt(squares[i] / (size - 1) * (1 + 1 / size));
            means[i] += off / (size + 1);
            squares[i] += off * off * size / (size + 1);
        }
    }
    const int all = n + more;
    const BoundFactors factors = factors_of(all, claim);
    Outlook out;
    for (std::size_t i = 0; i < trials; ++i) {
        const Showing showing = showing_by(factors, means[i], std::sqrt(squares[i] / (all - 1)), limit);
        (showing == Showing::shown  ? out.shown
         : showing == Showing::open ? out.open
                                    : out.refuted) += 1.0 / trials;
    }
    out.standard_error = 0.5 / std::sqrt(static_cast<double>(trials));
    return out;
}

}  // namespace ebbtide::stats
