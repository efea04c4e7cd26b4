#pragma once
// From a measured fall back to the sheet: its time constant, and so surface resistivity times capacitance;
// where asked, the resistance of its contacts or how it depends on the field.

#include <optional>
#include <string>
#include <vector>

#include "fit/fit.hpp"
#include "sheet/fall_law.hpp"

namespace ebbtide::sheet {

/// The fall of one run.
struct SeenFall {
    /// Seconds from the release, ascending, at least 0, from where the clamps have come to rest; volts after
    /// zero and sign, so that the hold reads positive.
    fit::Curve curve;
    Between between;
    double held_V = 0;                   ///< reading at the end of the hold, above 0
    std::optional<double> clamp_V = {};  ///< of the clamps while held, above 0; nothing: not recorded
    std::optional<double> induced_fraction = {};  ///< as measured; nothing: the fixture's own, by its lengths
    double u_release_s = 0, u_lag_s = 0, u_zero_V = 0;
};

/// What the points say of a figure.
enum class Identified {
    not_asked,
    free,            ///< a value and both ends
    bounded_above,   ///< an upper end only
    bounded_below,   ///< a lower end only
    not_determined,  ///< any value would do
};

/// Ends of a 95 % interval. A bound has no value: what the search ended at is none.
struct Estimate {
    Identified identified = Identified::not_asked;
    std::optional<double> value = {}, low = {}, high = {};
};

enum class InversionState {
    not_run,
    determined,
    at_most,          ///< too fast for sensor, release or sampling: an upper bound of the time constant
    at_least,         ///< hardly fell: a lower bound of it
    took_no_charge,   ///< what it showed was the clamps': nothing is known of the sheet
    charge_unproven,  ///< it fell at once, and nobody knows that it was charged
    refused,
};

struct Inversion {
    InversionState state = InversionState::not_run;
    std::string reason;        ///< why there is no value; empty when determined
    Estimate time_constant_s;  ///< T of relative_modes.hpp
    Estimate second;           ///< contact_ratio or field_exponent of fall_law.hpp
    double amplitude_V = 0;    ///< reading that a long hold would have shown; over held_V near 1 after one
    double rss = 0;            ///< V^2
    std::size_t points = 0;
    double effective_points = 0;
    // Relative standard uncertainties of the time constant, and what they rest on:
    double u_noise = 0, u_release = 0, u_lag = 0, u_zero = 0;
};

/// T must be at least so many times lag, clamps' fall and sample interval, or only a bound is given.
inline constexpr double fast_limit = 3;
/// A fall that keeps more than this of its first reading to the end gives a bound only.
inline constexpr double slow_limit = 0.8;
/// Of the charge that a full one would be: less counts as none.
inline constexpr double least_charge = 0.25;

/// Noise may remember (a field sensor's band): intervals come from its own residuals, by Student's t, and by
/// profile likelihood where the sum of squares is no parabola; what release, lag and zero leave open is put
/// to them on the logarithmic scale. Approximate below some 200 samples, where that memory is found less
/// surely (91.6 % covered with 150 where 94 % did with 300). Only with the clamps' voltage is a fast fall a
/// fast sheet. Field: after a long hold only (5 T). Pure; never fails for what the points are: `reason` says
/// it.
[[nodiscard]] Inversion invert(const FallModel& model, const SeenFall& fall);

/// What fits best, whatever it is worth: for comparing operators.
struct BestFit {
    double time_constant_s = 0, rss = 0;
};
/// Nothing where nothing fits. Expects the model of a sheet without a second parameter.
[[nodiscard]] std::optional<BestFit> best_fit(const FallModel& model, const SeenFall& fall);

/// R_s c = T (pi / gap)^2, seconds per square metre (ohm F / m2).
[[nodiscard]] double resistance_capacitance_s_m2(double time_constant_s, double gap_m);

}  // namespace ebbtide::sheet
