#include "stats/tolerance.hpp"

#include <array>
#include <cmath>

#include "stats/distributions.hpp"

namespace ebbtide::stats {
namespace {

double density(double z) {
    return std::exp(-z * z / 2) * 0.3989422804014327;  // 1/sqrt(2 pi)
}

/// Half width r of the interval about x that holds a share of the standard normal distribution.
double half_width(double x, double share) {
    double r = x + normal_quantile((1 + share) / 2);
    for (int step = 0; step < 50; ++step) {
        const double held = normal_below(x + r) - normal_below(x - r);
        const double move = (share - held) / (density(x + r) + density(x - r));
        r += move;
        if (std::abs(move) < 1e-14 * r) break;
    }
    return r;
}

/// Probability that mean -+ k s holds the share.
double two_sided_confidence(double k, int n, double share) {
    // Over the place of the mean, in standard deviations of a value; Gauss and Legendre's sixteen points on
    // each of four pieces that cover nine standard deviations of the mean.
    static constexpr std::array<double, 8> places{0.0950125098376374, 0.2816035507792589, 0.4580167776572274,
                                                  0.6178762444026438, 0.7554044083550030, 0.8656312023878318,
                                                  0.9445750230732326, 0.9894009349916499};
    static constexpr std::array<double, 8> weights{0.1894506104550685, 0.1826034150449236, 0.1691565193950025,
                                                   0.1495959888165767, 0.1246289712555339, 0.0951585116824928,
                                                   0.0622535239386479, 0.0271524594117541};
    const double root = std::sqrt(static_cast<double>(n)), df = n - 1;
    const auto at = [&](double u) {  // u: the mean's place in its own standard deviations
        const double r = half_width(u / root, share);
        return 2 * density(u) * (1 - chi_squared_below(df * r * r / (k * k), df));
    };
    double sum = 0;
    constexpr std::array<double, 5> ends{0, 1.5, 3, 5.5, 9};
    for (std::size_t piece = 0; piece + 1 < ends.size(); ++piece) {
        const double middle = (ends[piece] + ends[piece + 1]) / 2, half = (ends[piece + 1] - ends[piece]) / 2;
        for (std::size_t i = 0; i < places.size(); ++i)
            sum += weights[i] * half * (at(middle - half * places[i]) + at(middle + half * places[i]));
    }
    return sum;
}

}  // namespace

double one_sided_factor(int n, const Claim& claim) {
    return one_sided_factor(n, n - 1, claim);
}

double one_sided_factor(double effective, double degrees_of_freedom, const Claim& claim) {
    const double root = std::sqrt(effective);
    return noncentral_t_quantile(claim.confidence, degrees_of_freedom, normal_quantile(claim.share) * root) /
           root;
}

double two_sided_factor(int n, const Claim& claim) {
    // Howe's approximation (J. Am. Stat. Assoc. 64 (1969) 610) is within a few percent; from there by secants
    // on logarithms, in which the confidence is nearly straight.
    const double df = n - 1;
    const double howe = normal_quantile((1 + claim.share) / 2) * std::sqrt(df * (1 + 1.0 / n)) /
                        std::sqrt(chi_squared_quantile(1 - claim.confidence, df));
    const auto missed = [&](double log_k) {
        const double confidence = two_sided_confidence(std::exp(log_k), n, claim.share);
        return std::log((1 - confidence) / (1 - claim.confidence));
    };
    double a = std::log(howe), b = a + 0.01;
    double at_a = missed(a), at_b = missed(b);
    for (int step = 0; step < 50 && std::abs(b - a) > 1e-12 && at_b != at_a; ++step) {
        const double next = b - at_b * (b - a) / (at_b - at_a);
        a = b;
        at_a = at_b;
        b = next;
        at_b = missed(b);
    }
    return std::exp(b);
}

}  // namespace ebbtide::stats
