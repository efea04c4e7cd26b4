#include "sheet/wave.hpp"

#include <cmath>
#include <numbers>

namespace ebbtide::sheet {
namespace {

using Eigen::Index;
using std::numbers::pi;

/// How far inside a contact the wave has its top: the strip beyond the edge that would draw what the contact
/// draws has 1 - ratio of the last strip's potential.
double phase_at(double ratio, double theta) {
    return std::atan2(ratio * std::cos(theta / 2), (2 - ratio) * std::sin(theta / 2));
}

/// What the phase falls by for more theta.
double phase_fall(double ratio, double theta) {
    const double c = ratio * std::cos(theta / 2), s = (2 - ratio) * std::sin(theta / 2);
    return ratio * (2 - ratio) / (2 * (c * c + s * s));
}

/// From contact to contact a wave turns by its phases and k half turns. Phases fall with theta, so that there
/// is one root, between k and k + 1 half turns: Newton's, inside an interval that halves where he leaves it.
double theta_of(double n, double turns, double left, double right) {
    double low = turns / n, high = (turns + pi) / n;
    if (left == 2 && right == 2) return high;
    double theta = (low + high) / 2;
    for (int i = 0; i < 500; ++i) {
        const double over = n * theta - phase_at(left, theta) - phase_at(right, theta) - turns;
        (over > 0 ? high : low) = theta;
        double next = theta - over / (n + phase_fall(left, theta) + phase_fall(right, theta));
        if (!(next > low && next < high)) next = (low + high) / 2;
        const bool there = std::abs(next - theta) <= 1e-15 * theta;
        theta = next;
        if (there) break;
    }
    return theta;
}

}  // namespace

// Sums over strips by the addition theorems, from the sines and cosines of theta / 2 and n theta / 2.
Wave::Wave(Index count, Index k, double left, double right) {
    const auto n = static_cast<double>(count);
    theta_ = theta_of(n, static_cast<double>(k) * pi, left, right);
    phase_ = phase_at(left, theta_);
    const double s = std::sin(theta_ / 2), c = std::cos(theta_ / 2);
    const double S = std::sin(n * theta_ / 2), C = std::cos(n * theta_ / 2);
    const double long_side = std::hypot(left * c, (2 - left) * s);
    const double sin_phase = left * c / long_side, cos_phase = (2 - left) * s / long_side;
    const double sin_all = 2 * S * C, cos_all = C * C - S * S;
    // n theta less the phase.
    const double sin_far = sin_all * cos_phase - cos_all * sin_phase,
                 cos_far = cos_all * cos_phase + sin_all * sin_phase;

    double squares = 0;
    if (2 * s * c > 1e-4)
        squares = n / 2 + sin_all * (cos_far * cos_phase + sin_far * sin_phase) / (4 * s * c);
    else  // the quotient has no digits left
        for (Index i = 0; i < count; ++i) squares += at(i) * at(i);
    height_ = 1 / std::sqrt(squares);
    first_ = height_ * (c * cos_phase + s * sin_phase);
    last_ = height_ * (cos_far * c + sin_far * s);
    sum_ = height_ * S * (C * cos_phase + S * sin_phase) / s;
    drawn_ = 4 * s * s;
}

double Wave::at(Index i) const {
    return height_ * std::cos(theta_ * (static_cast<double>(i) + 0.5) - phase_);
}

}  // namespace ebbtide::sheet
