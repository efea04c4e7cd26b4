#pragma once
// The fall of a sheet as a sensor shows it, as laws that can be fitted: the sheet's own time is free, what
// lies between sheet and samples is known.

#include <functional>
#include <optional>

#include "fit/law.hpp"
#include "sheet/relative_modes.hpp"

namespace ebbtide::sheet {

/// All in seconds, 0 or more; 0: not there.
struct Between {
    double lag_s = 0;   ///< time constant of a first-order sensor
    double fall_s = 0;  ///< time constant with which the clamps' voltage falls after the release
    std::optional<double> hold_s =
        {};  ///< charged from empty for so long; none: until nothing changed any more
};

/// Both laws: t >= 0 from the release; one amplitude, `amplitude_V`, the reading of a sheet held for long;
/// shape parameter 0 is `time_constant_s`, T of relative_modes.hpp. What the clamps induce is included.
namespace fall_parameter {
inline constexpr std::size_t time_constant = 0, second = 1;
}

/// A linear sheet with perfect contacts. In closed form, slopes too.
[[nodiscard]] fit::Law linear_fall(const RelativeModes& modes, const Between& between);

inline constexpr double least_contact_ratio = 1e-4, most_contact_ratio = 30;
inline constexpr double least_field_exponent = 3e-3;

/// What is sought beside the time constant: shape parameter 1 of a law.
enum class Second {
    nothing,
    /// `contact_ratio`: resistance of each contact (ohm m) over R_s times the gap, from least_contact_ratio,
    /// which T feels by less than a thousandth. Modes by interpolation between 56 ratios (readings to 5e-5).
    contact,
    /// `field_exponent`: beta sqrt(V / gap) of a resistivity R_0 exp(-beta sqrt|E|) (forward.hpp), V the
    /// clamps' voltage; T is that of R_0. Of the sheet's history only a long hold is known; the clamps' fall
    /// counts as a delay by its time constant, which is right to the second order of fall_s / T. Readings by
    /// interpolation between stepped simulations, to 5e-5.
    field,
};

/// A sheet with all that its laws share, worked out once for any number of runs. Copies share it.
struct FallModel {
    TimedSheet sheet;
    Second second = Second::nothing;
    std::function<fit::Law(const Between&)> law;
};

/// Errors: a sheet that cannot be simulated (our own fault).
[[nodiscard]] Result<FallModel> fall_model(const TimedSheet& sheet, Second second = Second::nothing);

}  // namespace ebbtide::sheet
