#pragma once
// A curve as a line in a picture.

#include <span>

#include "judge/judgement.hpp"
#include "report/picture.hpp"
#include "report/scale.hpp"

namespace ebbtide::report {

/// Muted when it does not count, else by its polarity.
[[nodiscard]] Tint tint_of(const judge::JudgedRun& run);

/// value / divisor against time on two scales, broken where it leaves them, thinned so that the line looks
/// the same.
void draw_curve(Picture& picture, std::span<const double> time_s, std::span<const double> value,
                double divisor, const Scale& x, const Scale& y, Tint tint, double width,
                Dash dash = Dash::solid);

}  // namespace ebbtide::report
