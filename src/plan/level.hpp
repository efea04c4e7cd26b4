#pragma once
// Decay levels: where on the fall a decay time is read.

#include <string>
#include <string_view>
#include <vector>

#include "basis/result.hpp"

namespace ebbtide::plan {

/// A fraction of the initial voltage V0, or an absolute voltage.
struct Level {
    enum class Kind { fraction, absolute_V };
    Kind kind = Kind::fraction;
    double value = 0.1;        ///< fraction in [0, 1), or volts > 0 (the sign is the run's)
    std::string text = "0.1";  ///< as the method or the person wrote it

    bool operator==(const Level&) const = default;
    /// However the two were written: "10 %" is "0.1".
    [[nodiscard]] bool same_as(const Level& other) const {
        return kind == other.kind && value == other.value;
    }

    /// The level in volts for an initial voltage taken positive.
    [[nodiscard]] double volts(double initial_V) const {
        return kind == Kind::fraction ? value * initial_V : value;
    }
    /// "10 %", "1/e", "500 V".
    [[nodiscard]] std::string label() const;
};

/// Unless one of them is the same.
void add_once(std::vector<Level>& levels, const Level& level);

/// Reads "0.1", "10%", "10 %", "1/e", "500 V", "0.5 kV". Fractions must lie in [0, 1).
[[nodiscard]] Result<Level> parse_level(std::string_view text);

/// What stands for zero when a method asks for the 0 % level: an exponential never gets there.
struct ZeroFloor {
    enum class Kind { none, fraction, absolute_V };
    Kind kind = Kind::none;
    double value = 0;  ///< fraction of V0 in (0, 1), or volts > 0
};

/// Which voltage counts as the start of the decay, V0.
enum class InitialBasis {
    hold_mean,         ///< mean over a window of the hold that ends a guard time before the release
    charging_maximum,  ///< highest voltage while charging, after smoothing to a stated bandwidth
    nominal,           ///< the stated charging voltage
    without_specimen,  ///< a stated reading of the fixture without specimen
};
[[nodiscard]] std::string_view name_of(InitialBasis basis);

}  // namespace ebbtide::plan
