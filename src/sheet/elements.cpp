#include "sheet/elements.hpp"

#include <algorithm>
#include <numbers>

namespace ebbtide::sheet {
namespace {

using std::numbers::pi;

constexpr double shortest = 1.0 / 150;  // gaps: with a nearer plane there would be more strips than patience

/// Second integral of ln|d|.
double second_integral(double d) {
    return d == 0 ? 0 : d * d * (std::log(std::abs(d)) / 2 - 0.75);
}

}  // namespace

BetweenPlanes::BetweenPlanes(double to_sensor, double behind)
    : height_(to_sensor + behind),
      to_sensor_(to_sensor),
      nearest_(std::min(to_sensor, behind)),
      sine_(std::sin(pi * nearest_ / height_)),
      cosine_((behind < to_sensor ? 1 : -1) * std::cos(pi * nearest_ / height_)) {}

// The singular part, a logarithm, by its double integral; the rest is smooth over a strip narrower than the
// planes are apart.
double BetweenPlanes::mean(const Strip& a, const Strip& b) const {
    const double logarithm = second_integral(a.to - b.from) - second_integral(a.to - b.to) -
                             second_integral(a.from - b.from) + second_integral(a.from - b.to);
    double rest = 0;
    for (const double s : {-1.0, 1.0})
        for (const double t : {-1.0, 1.0}) rest += without_logarithm(a.gauss(s) - b.gauss(t)) / 4;
    return rest - logarithm / (2 * pi * a.width() * b.width());
}

// Everything is alike along the clamps: of a disc it is the lengths of its chords that count, which are the
// weight of Chebyshev's second kind. Its rule converges as the nearest pole, a sensor distance off the face,
// lets it: these nodes leave 1e-12.
double BetweenPlanes::field_at_sensor(const Strip& b, double aperture) const {
    const double radius = aperture / 2;
    if (radius == 0) return field_at_face(0, b);
    const int nodes = 16 + static_cast<int>(16 * radius / to_sensor_);
    double out = 0;
    for (int i = 1; i <= nodes; ++i) {
        const double angle = pi * i / (nodes + 1), chord = std::sin(angle);
        out += 2.0 / (nodes + 1) * chord * chord * field_at_face(radius * std::cos(angle), b);
    }
    return out;
}

double BetweenPlanes::field_at_face(double x, const Strip& b) const {
    double out = 0;
    for (const double t : {-1.0, 1.0}) {
        const double far = std::cosh(pi * (b.gauss(t) - x) / height_);
        out += sine_ / ((far + cosine_) * 4 * height_);
    }
    return out;
}

/// Potential at the distance d along the sheet, ln(1 + sin^2(pi h/H) / sinh^2(pi d/2H)) / 4 pi, plus
/// ln|d| / 2 pi.
double BetweenPlanes::without_logarithm(double d) const {
    const double away = std::abs(d);
    if (away < 1e-9 * nearest_) return std::log(2 * height_ * sine_ / pi) / (2 * pi);
    const double ratio = sine_ / std::sinh(pi * away / (2 * height_));
    return (std::log1p(ratio * ratio) + 2 * std::log(away)) / (4 * pi);
}

std::optional<InGaps> in_gaps(const CrossSection& fixture) {
    for (const double length :
         {fixture.gap_m, fixture.clamp_m, fixture.sensor_distance_m, fixture.enclosure_behind_m})
        if (!(length > 0) || !std::isfinite(length)) return std::nullopt;
    if (!(fixture.aperture_m >= 0 && fixture.aperture_m <= fixture.gap_m)) return std::nullopt;
    InGaps out{fixture.sensor_distance_m / fixture.gap_m, fixture.enclosure_behind_m / fixture.gap_m,
               fixture.clamp_m / fixture.gap_m, fixture.aperture_m / fixture.gap_m};
    const double nearest = std::min(out.to_sensor, out.behind);
    if (!(nearest > shortest) || !(out.clamp > shortest / 10)) return std::nullopt;
    out.strips = static_cast<std::size_t>(std::max(1 / nearest, 48.0));
    // Farther out a clamp sees nothing of the sheet: the planes hide it, or the sheet is small from there.
    out.clamp = std::min({out.clamp, 8 * (out.to_sensor + out.behind), 20.0});
    return out;
}

std::vector<Strip> sheet_strips(std::size_t count) {
    std::vector<Strip> out(count);
    const auto edge = [&](std::size_t i) {
        const double left = 1 - static_cast<double>(i) / static_cast<double>(count);
        return (1 - left * left) / 2;
    };
    for (std::size_t i = 0; i < count; ++i) out[i] = {edge(i), edge(i + 1)};
    return out;
}

std::vector<Strip> clamp_strips(std::size_t count, double length) {
    std::vector<Strip> out(count);
    const auto edge = [&](std::size_t i) {
        return 0.5 + length * (1 - std::cos(pi * static_cast<double>(i) / static_cast<double>(count))) / 2;
    };
    for (std::size_t i = 0; i < count; ++i) out[i] = {edge(i), edge(i + 1)};
    return out;
}

}  // namespace ebbtide::sheet
