#pragma once
// The laws that a decaying voltage may follow, for the engine in fit/. Time counts from the release, in
// seconds.

#include <optional>
#include <string_view>
#include <vector>

#include "fit/law.hpp"

namespace ebbtide::decay {

enum class LawKind {
    exponential,         ///< V0 exp(-t/T): one resistance, one capacitance
    two_exponentials,    ///< two of them: two paths or two places
    three_exponentials,  ///< three
    stretched,           ///< V0 exp(-(t/T)^b): a spread of time constants (b < 1)
    power,               ///< V0 (1 + t/T)^(-q): charge that slows its own leaving; q = 1 is second order
};

/// "exponential", "two_exponentials", "three_exponentials", "stretched", "power".
[[nodiscard]] std::string_view name_of(LawKind kind);
[[nodiscard]] std::optional<LawKind> law_kind_of(std::string_view name);
[[nodiscard]] std::vector<LawKind> all_law_kinds();

/// Where the curve ends after a long time.
struct Offset {
    enum class Kind {
        free,             ///< fitted, named offset_V
        stated,           ///< `value_V`; zero by default
        minus_amplitude,  ///< minus the sum of the amplitudes: a curve that starts at zero, such as a
                          ///< charging one
    };
    Kind kind = Kind::stated;
    double value_V = 0;
};

/// Parameters: amplitude_V, time_constant_s (amplitude_1_V, time_constant_1_s ... with time constants
/// ascending), exponent (stretched), power, offset_V.
[[nodiscard]] fit::Law law_of(LawKind kind, const Offset& offset);

}  // namespace ebbtide::decay
