#include "stats/censored_fit.hpp"

#include <cmath>
#include <limits>

namespace ebbtide::stats {
namespace {

/// Newton's step for a concave function of two variables, and what it promises to gain.
struct NewtonStep {
    double rate, shift, gain;
};

NewtonStep newton_step(const LogLikelihood& at) {
    double rate_rate = at.rate_rate, shift_shift = at.shift_shift;
    double determinant = rate_rate * shift_shift - at.rate_shift * at.rate_shift;
    // Flat to rounding in some direction: a little more bend keeps the step finite and upward.
    if (!(determinant > 1e-14 * rate_rate * shift_shift)) {
        const double more = 1e-7 * (std::abs(rate_rate) + std::abs(shift_shift)) + 1e-12;
        rate_rate -= more;
        shift_shift -= more;
        determinant = rate_rate * shift_shift - at.rate_shift * at.rate_shift;
    }
    const double rate = (at.rate_shift * at.by_shift - shift_shift * at.by_rate) / determinant;
    const double shift = (at.rate_shift * at.by_rate - rate_rate * at.by_shift) / determinant;
    return {rate, shift, at.by_rate * rate + at.by_shift * shift};
}

struct Top {
    double rate = 1, shift = 0;
    LogLikelihood at;
    FitOutcome outcome = FitOutcome::stalled;
};

Top climb(const LogSample& sample) {
    constexpr double no_rate = 1e-6;  // a spread of a million times that of the values
    Top top;
    top.at = sample.at(top.rate, top.shift);
    double last_gain = std::numeric_limits<double>::infinity();
    for (int step = 0; step < 200; ++step) {
        const NewtonStep newton = newton_step(top.at);
        // Near the top whole steps are safe, and the value's own rounding hides what they gain: they end
        // where they stop getting shorter.
        if (newton.gain < 1e-7 && top.rate + newton.rate > 0) {
            if (newton.gain <= 1e-20 || newton.gain >= last_gain) {
                top.outcome = top.rate < no_rate ? FitOutcome::only_bounds_apart : FitOutcome::fitted;
                return top;
            }
            last_gain = newton.gain;
            top.rate += newton.rate;
            top.shift += newton.shift;
            top.at = sample.at(top.rate, top.shift);
            continue;
        }
        double length = 1;
        if (top.rate + newton.rate <= 0) length = -0.9 * top.rate / newton.rate;
        for (int halving = 0;; ++halving, length /= 2) {
            if (halving == 60) return top;  // no way up that the digits can tell
            const double rate = top.rate + length * newton.rate, shift = top.shift + length * newton.shift;
            const LogLikelihood at = sample.at(rate, shift);
            const double rounding = 1e-14 * std::abs(top.at.value);
            if (!(at.value >= top.at.value + 1e-4 * length * newton.gain - rounding)) continue;
            top.rate = rate;
            top.shift = shift;
            top.at = at;
            break;
        }
        if (top.rate < no_rate) {
            top.outcome = FitOutcome::only_bounds_apart;
            return top;
        }
    }
    return top;
}

}  // namespace

std::string_view name_of(FitOutcome outcome) {
    switch (outcome) {
        case FitOutcome::not_tried:
            return "not_tried";
        case FitOutcome::fitted:
            return "fitted";
        case FitOutcome::one_time_explains_all:
            return "one_time_explains_all";
        case FitOutcome::only_bounds_apart:
            return "only_bounds_apart";
        case FitOutcome::stalled:
            return "stalled";
    }
    return "not_tried";
}

std::string_view in_words(FitOutcome outcome) {
    switch (outcome) {
        case FitOutcome::not_tried:
            return "no fit was tried";
        case FitOutcome::fitted:
            return "";
        case FitOutcome::one_time_explains_all:
            return "one single time agrees with every specimen, so nothing shows how specimens differ";
        case FitOutcome::only_bounds_apart:
            return "there are bounds only, and those below lie above those above: any larger spread fits "
                   "them "
                   "better";
        case FitOutcome::stalled:
            return "the search ended short of the best fit: a fault of the program, please report it";
    }
    return "";
}

double CensoredFit::log_quantile(double probability) const {
    return location + scale * standard_quantile(family, probability);
}

double CensoredFit::error_of_log_quantile(double probability) const {
    const double by_log_scale = scale * standard_quantile(family, probability);
    return std::sqrt(variance_location + 2 * by_log_scale * covariance +
                     by_log_scale * by_log_scale * variance_log_scale);
}

double CensoredFit::share_beyond(double time) const {
    return standard_above(family, (std::log(time) - location) / scale);
}

CensoredFit fit_censored(const LogSample& sample) {
    CensoredFit fit;
    fit.family = sample.family();
    if (sample.one_time_explains_all()) {
        fit.outcome = FitOutcome::one_time_explains_all;
        return fit;
    }
    const Top top = climb(sample);
    fit.outcome = top.outcome;
    if (!fit.fitted()) return fit;
    fit.scale = sample.scale() / top.rate;
    fit.location = sample.centre() + fit.scale * top.shift;
    fit.log_likelihood = top.at.value;
    // The information in (location / scale of the sample, ln scale), where slopes vanish.
    const double rate = top.rate, shift = top.shift;
    const double mean_mean = -rate * rate * top.at.shift_shift;
    const double mean_scale = rate * (rate * top.at.rate_shift + shift * top.at.shift_shift);
    const double scale_scale = -(rate * rate * top.at.rate_rate + 2 * rate * shift * top.at.rate_shift +
                                 shift * shift * top.at.shift_shift);
    const double determinant = mean_mean * scale_scale - mean_scale * mean_scale;
    fit.variance_location = sample.scale() * sample.scale() * scale_scale / determinant;
    fit.variance_log_scale = mean_mean / determinant;
    fit.covariance = -sample.scale() * mean_scale / determinant;
    if (!(std::isfinite(fit.variance_location) && fit.variance_location > 0 && fit.variance_log_scale > 0))
        fit.outcome = FitOutcome::stalled;
    return fit;
}

CensoredFit fit_censored(std::span<const Observation> sample, Family family) {
    return fit_censored(LogSample(sample, family));
}

}  // namespace ebbtide::stats
