#include "fit/robust.hpp"

#include <algorithm>
#include <boost/math/distributions/students_t.hpp>
#include <cmath>
#include <limits>
#include <numeric>

namespace ebbtide::fit {
namespace {

constexpr double chance = 0.01;       // that a trace without spikes loses a sample
constexpr double efficiency = 0.37;   // of the scale by medians, for normal noise: it knows that share of n
constexpr std::size_t reach = 8;      // neighbours on either side
constexpr std::size_t probes = 4096;  // deviations from neighbours that their scale is taken from
constexpr double share_of_spikes = 0.2;
constexpr std::size_t fewest = 8;  // samples of which one can be told from the others
constexpr int most_rounds = 10;

double median_of(std::vector<double>& values) {
    const auto middle = values.begin() + static_cast<std::ptrdiff_t>(values.size() / 2);
    std::ranges::nth_element(values, middle);
    if (values.size() % 2 == 1) return *middle;
    return (*middle + *std::max_element(values.begin(), middle)) / 2;
}

/// Of normal noise, from absolute deviations. As many as were fitted are exactly or nearly zero and say
/// nothing.
double scale_of(std::vector<double> deviations, std::size_t fitted) {
    for (double& d : deviations) d = std::abs(d);
    std::ranges::sort(deviations);
    deviations.erase(deviations.begin(), deviations.begin() + static_cast<std::ptrdiff_t>(fitted));
    return median_of(deviations) / 0.6745;
}

/// What the record cannot show: half the recorder's step, or rounding.
double resolution_of(const Curve& curve) {
    double step = std::numeric_limits<double>::infinity(), largest = 0;
    for (std::size_t i = 0; i < curve.size(); ++i) {
        largest = std::max(largest, std::abs(curve.y[i]));
        if (i > 0 && curve.y[i] != curve.y[i - 1])
            step = std::min(step, std::abs(curve.y[i] - curve.y[i - 1]));
    }
    return std::max(std::isfinite(step) ? step / 2 : 0, 1e-12 * largest);
}

/// Positions of the spikes about this fit. `curve` by ascending x.
std::vector<std::size_t> spikes_about(const Law& law, const Fit& fit, const Curve& curve) {
    const std::size_t count = curve.size();
    const std::vector<double> values = values_of(law, fit.amplitudes(law), fit.shape(law), curve.x);
    std::vector<double> residual(count);
    for (std::size_t i = 0; i < count; ++i)
        residual[i] = (curve.y[i] - values[i]) / (curve.sigma.empty() ? 1 : curve.sigma[i]);
    // From the line through the medians of the earlier and the later half of the neighbours: at the ends of
    // the record the residuals of a wrong law are steep.
    const auto off_neighbours = [&](std::size_t i) {
        std::vector<std::size_t> near;
        for (std::size_t j = i - std::min(i, reach); j < std::min(count, i + reach + 1); ++j)
            if (j != i) near.push_back(j);
        const std::size_t half = near.size() / 2;
        const auto middle_of = [&](std::size_t from, std::size_t to, double& place) {
            std::vector<double> values_near;
            place = 0;
            for (std::size_t k = from; k < to; ++k) {
                values_near.push_back(residual[near[k]]);
                place += static_cast<double>(near[k]) / static_cast<double>(to - from);
            }
            return median_of(values_near);
        };
        double early_at = 0, late_at = 0;
        const double early = middle_of(0, half, early_at), late = middle_of(half, near.size(), late_at);
        const double along = (static_cast<double>(i) - early_at) / (late_at - early_at);
        return residual[i] - early - along * (late - early);
    };
    std::vector<double> local;
    const std::size_t stride = std::max<std::size_t>(1, count / probes);
    for (std::size_t i = 0; i < count; i += stride) local.push_back(off_neighbours(i));

    const std::size_t fitted = law.parameter_count();
    const auto n = static_cast<double>(count);
    const boost::math::students_t student(std::max(1.0, efficiency * (n - static_cast<double>(fitted))));
    const double limit = boost::math::quantile(boost::math::complement(student, chance / (2 * n)));
    const double from_law = limit * scale_of(residual, fitted);
    const double from_neighbours = limit * scale_of(local, 0);
    const double resolution = resolution_of(curve);
    std::vector<std::size_t> out;
    for (std::size_t i = 0; i < count; ++i)
        if (std::abs(residual[i]) > from_law && std::abs(curve.y[i] - values[i]) > 2 * resolution &&
            std::abs(off_neighbours(i)) > from_neighbours)
            out.push_back(i);
    return out;
}

}  // namespace

CurveStore without(const Curve& curve, std::span<const std::size_t> lost) {
    CurveStore out;
    for (std::size_t i = 0; i < curve.size(); ++i) {
        if (!lost.empty() && lost.front() == i) {
            lost = lost.subspan(1);
            continue;
        }
        out.x.push_back(curve.x[i]);
        out.y.push_back(curve.y[i]);
        if (!curve.sigma.empty()) out.sigma.push_back(curve.sigma[i]);
    }
    return out;
}

RobustFit fit_robust(const Law& law, const Curve& given, const Spread& spread,
                     const std::vector<std::optional<double>>& held) {
    RobustFit out{.fit = fit(law, given, spread, held)};
    if (!out.fit.ok() || given.size() < fewest) return out;
    std::vector<std::size_t> order(given.size());
    std::iota(order.begin(), order.end(), std::size_t{0});
    std::ranges::stable_sort(order, {}, [&](std::size_t i) { return given.x[i]; });
    const CurveStore ordered = sorted(given);
    const Curve curve = ordered.view();

    const Fit of_all = out.fit;
    std::vector<std::size_t> lost;
    for (int round = 0; round < most_rounds; ++round) {
        const std::vector<std::size_t> found = spikes_about(law, out.fit, curve);
        if (found == lost) break;
        lost = found;
        out.fit = lost.empty() ? of_all : fit(law, without(curve, lost).view(), spread, held);
        const bool single =
            static_cast<double>(lost.size()) <= share_of_spikes * static_cast<double>(curve.size());
        if (!single || !out.fit.ok()) {
            lost.clear();
            out.fit = of_all;
            break;
        }
    }
    for (const std::size_t i : lost) out.lost.push_back(order[i]);
    std::ranges::sort(out.lost);
    return out;
}

}  // namespace ebbtide::fit
