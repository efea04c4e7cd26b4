#pragma once
// A law as a first-order sensor shows it: y' = (v - y) / s, s the lag. Offsets pass unchanged, so wrap the
// law before it gets one.

#include <functional>
#include <span>

#include "decay/sheet_laws.hpp"
#include "fit/law.hpp"

namespace ebbtide::decay {

struct Sensor {
    double lag_s = 0;        ///< s, above zero
    double start_ratio = 1;  ///< y(0) / v(0)
};

/// A law each of whose columns j is `sum` with shape parameter j for T. In closed form, and without
/// cancellation where a time constant meets the lag: rounding only.
[[nodiscard]] fit::Law through_sensor(fit::Law law, const Sensor& sensor, const ModeSum& sum);

/// How fast columns may change with log t, in units of an exponential's, at these shape parameters; at least
/// 1. A stretched exponential: its exponent.
using Sharpness = std::function<double(std::span<const double> theta)>;

/// Any other law with columns of 1 at t = 0 that are smooth in log t, by quadrature: within 1e-10 of v(0).
/// A row is found from the one before where that lies near enough, so ascending t are several times faster;
/// the values do not depend on it beyond that.
[[nodiscard]] fit::Law through_sensor(fit::Law law, const Sensor& sensor, const Sharpness& sharpness);

}  // namespace ebbtide::decay
