#include "sheet/clamp_voltage.hpp"

#include <cmath>
#include <limits>

namespace ebbtide::sheet {
namespace {

constexpr double infinity = std::numeric_limits<double>::infinity();

}  // namespace

double Phase::voltage_V(double t) const {
    double out = 0;
    for (const ExponentialPart& part : parts) out += part.amplitude_V * std::exp(-part.rate_per_s * t);
    return out;
}

double Phase::slope_V_s(double t) const {
    double out = 0;
    for (const ExponentialPart& part : parts)
        out -= part.rate_per_s * part.amplitude_V * std::exp(-part.rate_per_s * t);
    return out;
}

double Phase::integral_V_s(double t) const {
    double out = 0;
    for (const ExponentialPart& part : parts)
        out += part.amplitude_V *
               (part.rate_per_s > 0 ? -std::expm1(-part.rate_per_s * t) / part.rate_per_s : t);
    return out;
}

std::array<Phase, 2> phases_of(const Clamps& clamps) {
    double at_release = clamps.voltage_V;
    Phase charging{-infinity, infinity, {{clamps.voltage_V, 0}}};
    if (clamps.hold_s) {
        charging.start_s = -*clamps.hold_s;
        charging.length_s = *clamps.hold_s;
        if (clamps.rise_s > 0) charging.parts.push_back({-clamps.voltage_V, 1 / clamps.rise_s});
        at_release = charging.voltage_V(*clamps.hold_s);
    }
    Phase released{0, infinity, {}};
    for (const Fall& fall : clamps.fall)
        if (fall.time_constant_s > 0)
            released.parts.push_back({at_release * fall.part, 1 / fall.time_constant_s});
    return {charging, released};
}

}  // namespace ebbtide::sheet
