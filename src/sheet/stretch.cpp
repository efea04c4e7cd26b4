#include "sheet/stretch.hpp"

#include <algorithm>
#include <cmath>

namespace ebbtide::sheet {

double apart_from(double rate, double other) {
    const double larger = std::max(std::abs(rate), std::abs(other));
    return std::abs(rate - other) < told_apart * larger ? other * (1 + told_apart) : rate;
}

double Stretch::at(double t) const {
    double out = cubic[0] + t * (cubic[1] + t * (cubic[2] + t * cubic[3]));
    for (const ExponentialPart& part : parts)
        out += part.rate_per_s > 0 ? part.amplitude_V * std::exp(-part.rate_per_s * t) : part.amplitude_V;
    return out;
}

// y' = (x - y) / lag: a particular solution for each part, and what the start leaves over dies away.
Stretch Stretch::lagged(double lag_s, double start) const {
    if (lag_s == 0) return *this;
    const double own = 1 / lag_s;
    Stretch out{length_s, {}, {}};
    out.parts.reserve(parts.size() + 1);
    double left_over = start;
    for (const ExponentialPart& part : parts) {
        const double rate = apart_from(part.rate_per_s, own);
        const double amplitude = part.amplitude_V * own / (own - rate);
        out.parts.push_back({amplitude, rate});
        left_over -= amplitude;
    }
    out.cubic[3] = cubic[3];
    out.cubic[2] = cubic[2] - 3 * lag_s * out.cubic[3];
    out.cubic[1] = cubic[1] - 2 * lag_s * out.cubic[2];
    out.cubic[0] = cubic[0] - lag_s * out.cubic[1];
    out.parts.push_back({left_over - out.cubic[0], own});
    return out;
}

Stretch Stretch::after(double t) const {
    Stretch out = *this;
    out.length_s = length_s - t;
    for (ExponentialPart& part : out.parts) part.amplitude_V *= std::exp(-part.rate_per_s * t);
    const auto& c = cubic;
    out.cubic = {c[0] + t * (c[1] + t * (c[2] + t * c[3])), c[1] + t * (2 * c[2] + 3 * t * c[3]),
                 c[2] + 3 * t * c[3], c[3]};
    return out;
}

}  // namespace ebbtide::sheet
