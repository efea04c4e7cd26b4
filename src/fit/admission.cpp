#include "fit/admission.hpp"

#include <algorithm>
#include <cmath>

namespace ebbtide::fit {
namespace {

constexpr double largest_number = 1e100;  // squares of it and sums of those stay finite

/// Why these points cannot be fitted; empty when they can.
std::string fault_of(const Law& law, const Curve& curve) {
    if (curve.x.size() != curve.y.size() || (!curve.sigma.empty() && curve.sigma.size() != curve.x.size()))
        return "x, y and sigma have different lengths";
    const auto usable = [](double number) { return std::abs(number) < largest_number; };
    for (std::size_t i = 0; i < curve.size(); ++i) {
        if (!usable(curve.x[i]) || !usable(curve.y[i]))
            return "point " + std::to_string(i + 1) + " is not a finite number of ordinary size";
        if (!curve.sigma.empty() && !(curve.sigma[i] > 1 / largest_number && usable(curve.sigma[i])))
            return "sigma of point " + std::to_string(i + 1) + " is not positive";
        if (law.from_zero && curve.x[i] < 0)
            return "point " + std::to_string(i + 1) + " lies before zero, where this law is not defined";
    }
    return {};
}

std::size_t distinct(std::span<const double> ascending) {
    std::size_t count = ascending.empty() ? 0 : 1;
    for (std::size_t i = 1; i < ascending.size(); ++i) count += ascending[i] != ascending[i - 1];
    return count;
}

}  // namespace

std::string words_of(Outcome outcome) {
    switch (outcome) {
        case Outcome::not_run:
            return "nothing was fitted";
        case Outcome::converged:
            return {};
        case Outcome::stalled:
            return "the search ended before the bottom was proven; the values are the best seen";
        case Outcome::singular:
            return "the points cannot tell the parts of this law apart at any start";
        case Outcome::too_few_samples:
            return "there are no more distinct points than parameters";
        case Outcome::bad_samples:
            return "the points cannot be used";
    }
    return {};
}

Admission admit(const Law& law, const Curve& curve, const std::vector<std::optional<double>>& held) {
    Admission out;
    out.reason = fault_of(law, curve);
    if (!out.reason.empty()) {
        out.outcome = Outcome::bad_samples;
        return out;
    }
    out.points = curve;
    if (!std::ranges::is_sorted(curve.x)) {
        out.ordered = sorted(curve);
        out.points = out.ordered.view();
    }
    const auto pinned =
        static_cast<std::size_t>(std::ranges::count_if(held, [](const auto& h) { return h.has_value(); }));
    const std::size_t free = law.parameter_count() - pinned;
    if (curve.size() <= free || distinct(out.points.x) < free) {
        out.outcome = Outcome::too_few_samples;
        out.reason = words_of(out.outcome);
    }
    return out;
}

}  // namespace ebbtide::fit
