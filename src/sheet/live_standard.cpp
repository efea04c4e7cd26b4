#include "sheet/live_standard.hpp"

#include <algorithm>
#include <cmath>

namespace ebbtide::sheet {

// The plate's voltage is w + share V_clamp, where w changes by what comes through the resistor alone:
// dw/dt = ((1 - share) V_clamp - w) / (R C). It is continuous whatever the clamps do.
Result<Done> LiveStandard::turn(double t, const std::vector<ExponentialPart>& clamp_V) {
    clamp_share_ = standard_.to_clamps_F / standard_.sum_F();
    if (!reading_.parts.empty() || reading_.cubic != std::array<double, 4>{})
        own_V_ = reading_.at(t) - clamp_share_ * Stretch{0, clamp_V_, {}}.at(t);
    clamp_V_ = clamp_V;
    reading_ = {};
    if (standard_.voltage_coefficient_per_V == 0)
        exact(clamp_V);
    else
        step(clamp_V);
    return Done{};
}

Result<Done> LiveStandard::go_on() {
    const double length_s = reading_.length_s;
    return turn(length_s, Stretch{length_s, clamp_V_, {}}.after(length_s).parts);
}

void LiveStandard::exact(const std::vector<ExponentialPart>& clamp_V) {
    double rate = 1 / (standard_.resistance_ohm * standard_.sum_F());
    for (const ExponentialPart& part : clamp_V) rate = apart_from(rate, part.rate_per_s);
    double own = own_V_;
    for (const ExponentialPart& part : clamp_V) {
        const double driven = (1 - clamp_share_) * part.amplitude_V * rate / (rate - part.rate_per_s);
        own -= driven;
        reading_.parts.push_back({driven + clamp_share_ * part.amplitude_V, part.rate_per_s});
    }
    reading_.parts.push_back({own, rate});
}

void LiveStandard::step(const std::vector<ExponentialPart>& clamp_V) {
    const Stretch clamps{0, clamp_V, {}};
    const double constant_s = standard_.resistance_ohm * standard_.sum_F();
    const auto slope = [&](double t, double own) {
        const double across = (1 - clamp_share_) * clamps.at(t) - own;
        return across / (constant_s * (1 + standard_.voltage_coefficient_per_V * std::abs(across)));
    };
    // A fiftieth of whatever changes fastest, while it is still there.
    double highest_V = std::abs(own_V_), fastest = 1 / constant_s;
    for (const ExponentialPart& part : clamp_V) highest_V = std::max(highest_V, std::abs(part.amplitude_V));
    for (const ExponentialPart& part : clamp_V)
        if (std::abs(part.amplitude_V) > 1e-8 * highest_V) fastest = std::max(fastest, part.rate_per_s);
    const double h = 0.02 / fastest;
    const double k1 = slope(0, own_V_), k2 = slope(h / 2, own_V_ + h / 2 * k1),
                 k3 = slope(h / 2, own_V_ + h / 2 * k2), k4 = slope(h, own_V_ + h * k3);
    const double end_V = own_V_ + h / 6 * (k1 + 2 * k2 + 2 * k3 + k4), end_slope = slope(h, end_V);
    // The cubic that has both ends' values and slopes.
    const double mean_slope = (end_V - own_V_) / h;
    reading_.length_s = h;
    reading_.cubic = {own_V_, k1, (3 * mean_slope - 2 * k1 - end_slope) / h,
                      (k1 + end_slope - 2 * mean_slope) / (h * h)};
    for (const ExponentialPart& part : clamp_V)
        reading_.parts.push_back({clamp_share_ * part.amplitude_V, part.rate_per_s});
}

}  // namespace ebbtide::sheet
