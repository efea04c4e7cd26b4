#include "stats/distributions.hpp"

#include <algorithm>
#include <boost/math/distributions/non_central_t.hpp>
#include <boost/math/distributions/students_t.hpp>
#include <boost/math/special_functions/beta.hpp>
#include <boost/math/special_functions/erf.hpp>
#include <boost/math/special_functions/gamma.hpp>
#include <cmath>
#include <numbers>

namespace ebbtide::stats {
namespace {

/// Where an increasing function passes `target`: bracketed from a guess, then by secants that fall back on
/// halving.
template <class Function>
double where_passed(Function increasing, double target, double guess, double width) {
    double low = guess - width, high = guess + width;
    double at_low = increasing(low) - target, at_high = increasing(high) - target;
    for (int i = 0; i < 60 && at_low > 0; ++i) {
        high = low;
        at_high = at_low;
        low -= width;
        width *= 2;
        at_low = increasing(low) - target;
    }
    for (int i = 0; i < 60 && at_high < 0; ++i) {
        low = high;
        at_low = at_high;
        high += width;
        width *= 2;
        at_high = increasing(high) - target;
    }
    double middle = low;
    for (int i = 0; i < 200 && high - low > 1e-13 * (std::abs(low) + std::abs(high)); ++i) {
        // Every third step halves, so that a secant that creeps cannot last.
        const double cut = low - at_low * (high - low) / (at_high - at_low);
        middle = i % 3 == 2 || !(cut > low && cut < high) ? (low + high) / 2 : cut;
        const double at = increasing(middle) - target;
        if (at == 0) return middle;
        (at < 0 ? low : high) = middle;
        (at < 0 ? at_low : at_high) = at;
    }
    return (low + high) / 2;
}

}  // namespace

double normal_below(double z) {
    return 0.5 * std::erfc(-z / std::numbers::sqrt2);
}

double normal_quantile(double probability) {
    return -std::numbers::sqrt2 * boost::math::erfc_inv(2 * probability);
}

double students_t_below(double t, double degrees_of_freedom) {
    return boost::math::cdf(boost::math::students_t(degrees_of_freedom), t);
}

double students_t_quantile(double probability, double degrees_of_freedom) {
    return boost::math::quantile(boost::math::students_t(degrees_of_freedom), probability);
}

double noncentral_t_below(double t, double degrees_of_freedom, double noncentrality) {
    return boost::math::cdf(boost::math::non_central_t(degrees_of_freedom, noncentrality), t);
}

double noncentral_t_quantile(double probability, double degrees_of_freedom, double noncentrality) {
    const double guess = noncentrality + students_t_quantile(probability, degrees_of_freedom);
    return where_passed([&](double t) { return noncentral_t_below(t, degrees_of_freedom, noncentrality); },
                        probability, guess, 0.1 * (1 + std::abs(guess)));
}

double noncentrality_for(double probability, double t, double degrees_of_freedom) {
    // The probability below t falls as the noncentrality grows.
    return where_passed([&](double delta) { return -noncentral_t_below(t, degrees_of_freedom, delta); },
                        -probability, t, 0.1 * (1 + std::abs(t)));
}

double chi_squared_below(double x, double degrees_of_freedom) {
    return x > 0 ? boost::math::gamma_p(degrees_of_freedom / 2, x / 2) : 0;
}

double chi_squared_quantile(double probability, double degrees_of_freedom) {
    return 2 * boost::math::gamma_p_inv(degrees_of_freedom / 2, probability);
}

double f_above(double ratio, double numerator_df, double denominator_df) {
    if (!(ratio > 0)) return 1;
    return boost::math::ibeta(denominator_df / 2, numerator_df / 2,
                              denominator_df / (denominator_df + numerator_df * ratio));
}

double binomial_at_most(int successes, int trials, double probability) {
    if (successes < 0) return 0;
    if (successes >= trials || !(probability > 0)) return 1;
    if (!(probability < 1)) return 0;
    return boost::math::ibetac(successes + 1.0, static_cast<double>(trials - successes), probability);
}

double hypergeometric_at_most(int found, int drawn, int bad, int lot) {
    const auto log_choose = [](int n, int k) {
        return std::lgamma(n + 1.0) - std::lgamma(k + 1.0) - std::lgamma(n - k + 1.0);
    };
    const int least = std::max(0, drawn - (lot - bad)), most = std::min({found, drawn, bad});
    double sum = 0;
    for (int k = least; k <= most; ++k)
        sum += std::exp(log_choose(bad, k) + log_choose(lot - bad, drawn - k) - log_choose(lot, drawn));
    return std::min(sum, 1.0);
}

double beta_quantile(double probability, double a, double b) {
    return boost::math::ibeta_inv(a, b, probability);
}

}  // namespace ebbtide::stats
