#pragma once
// The laws by name, and how each may end.

#include <optional>
#include <string_view>
#include <vector>

namespace ebbtide::decay {

enum class LawKind {
    exponential,         ///< V0 exp(-t/T): one resistance, one capacitance
    two_exponentials,    ///< two of them: two paths or two places
    three_exponentials,  ///< three
    stretched,           ///< V0 exp(-(t/T)^b): a spread of time constants (b < 1)
    power,               ///< V0 (1 + t/T)^(-q): charge that slows its own leaving; q = 1 is second order
    backed_sheet,        ///< the middle of a sheet close to an earthed surface; T that of its slowest mode
    hanging_sheet,       ///< the middle of a sheet between clamps in a known fixture; T likewise
};

/// As the enumerators are written.
[[nodiscard]] std::string_view name_of(LawKind kind);
[[nodiscard]] std::optional<LawKind> law_kind_of(std::string_view name);
[[nodiscard]] std::vector<LawKind> all_law_kinds();

/// Where the curve ends after a long time.
struct Offset {
    enum class Kind {
        free,             ///< fitted, named offset_V
        stated,           ///< `value_V`; zero by default
        minus_amplitude,  ///< minus the sum of the amplitudes: a curve that starts at zero, such as a
                          ///< charging one (with a start ratio of 1 and no hold)
    };
    Kind kind = Kind::stated;
    double value_V = 0;
};

}  // namespace ebbtide::decay
