#pragma once
// Sums of exponentials whose rates and weights are known but for one time constant: the laws of sheets.

#include <cstddef>
#include <span>
#include <vector>

#include "fit/law.hpp"
#include "sheet/modes.hpp"

namespace ebbtide::decay {

/// 1 until `from` T, then sum of weight_k * exp(-rate_k * (t / T - from)). One exponential by default.
struct ModeSum {
    std::vector<double> rate{1};
    std::vector<double> weight{1};
    double from = 0;
};

/// The middle of a sheet with local capacitance between earthed edges, evenly charged: the plane wall of
/// heat-transfer handbooks with perfect contact,
///     (4/pi) sum over k of (-1)^k/(2k+1) exp(-(2k+1)^2 t/T).
/// Modes that count to 1e-15 once the middle starts to move; until then it is 1 to 1e-15.
[[nodiscard]] ModeSum backed_modes();
[[nodiscard]] ModeSum hanging_modes_of(const sheet::Modes& modes);

/// One mode: exp(-rate t) of ascending t in `fall`, up to the last where rate t is at most `gone`; how many
/// these are. `fall` has room for all of t.
std::size_t write_fall(std::span<const double> t, double rate, double gone, std::span<double> fall);

/// Both: one amplitude, amplitude_V, that of the start; one shape parameter, time_constant_s, that of the
/// slowest mode; for t >= 0.
[[nodiscard]] fit::Law backed_sheet();
[[nodiscard]] fit::Law hanging_sheet(const sheet::Modes& modes);

}  // namespace ebbtide::decay
