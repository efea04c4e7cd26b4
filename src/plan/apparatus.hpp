#pragma once
// Kinds of apparatus. Corona, charged plate, clamp discharge and induction measure different things: a trace
// of one is never judged by a method of another.

#include <array>
#include <optional>
#include <string_view>

namespace ebbtide::plan {

enum class Apparatus {
    clamp_discharge,     ///< specimen between two clamps that are charged, then earthed
    charged_plate,       ///< a charged metal plate discharges through the specimen
    corona_charging,     ///< charge from a corona lies on the specimen's surface
    induction_electrode  ///< a field electrode below the specimen steps; a probe above sees what comes
                         ///< through
};

inline constexpr std::array every_apparatus{Apparatus::clamp_discharge, Apparatus::charged_plate,
                                            Apparatus::corona_charging, Apparatus::induction_electrode};

/// As in files: "clamp_discharge".
[[nodiscard]] std::string_view name_of(Apparatus apparatus);
/// For people: "clamp discharge (specimen between clamps that are charged, then earthed)".
[[nodiscard]] std::string_view in_words(Apparatus apparatus);
[[nodiscard]] std::optional<Apparatus> apparatus_named(std::string_view name);

}  // namespace ebbtide::plan
