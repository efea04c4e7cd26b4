#pragma once
// What is wrong with a material, clamps or times, before anything is worked out of them.

#include <optional>
#include <span>
#include <string>

#include "sheet/forward.hpp"

namespace ebbtide::sheet {

/// Each says the first figure that is out of its range (forward.hpp).
[[nodiscard]] std::optional<Error> problem_of(const Material& material);
[[nodiscard]] std::optional<Error> problem_of(const Clamps& clamps);
[[nodiscard]] std::optional<Error> problem_of(std::span<const double> times_s, const Clamps& clamps);
[[nodiscard]] std::optional<Error> problem_of(const Options& options);
/// Distance a thousandth of the gap or more; opening no wider than the gap and than 20 distances.
[[nodiscard]] std::optional<Error> problem_of(const FaceView& view, double gap_m);

[[nodiscard]] Error bad_input(std::string what, std::string remedy = {});

}  // namespace ebbtide::sheet
