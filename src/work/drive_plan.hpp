#pragma once
// What is still to be driven of an order: its open places, in which sequence, and what each run is to do.

#include <cstdint>
#include <optional>
#include <string_view>
#include <vector>

#include "basis/result.hpp"
#include "bench/guarded_run.hpp"
#include "plan/method.hpp"
#include "work/live_plan.hpp"

namespace ebbtide::work {

enum class Sequence {
    planned,     ///< as the order lists them
    alternated,  ///< within one mounting the polarities take turns
    randomised,  ///< within one mounting, seeded
};
[[nodiscard]] std::string_view name_of(Sequence sequence);
[[nodiscard]] std::optional<Sequence> sequence_named(std::string_view name);

/// A place of the plan that no run fills yet.
struct OpenPlace {
    std::size_t place = 0;  ///< among the places of the plan
    plan::RunKey key;
    bool mount = true;  ///< another specimen or face than before
    bench::RunAim aim = {};
};

/// Open places in the sequence in which they are driven: neighbours of one specimen, face and conditions are
/// one mounting. Where the method leaves the polarity open it is positive. Errors: the bench has no [drive]
/// table, or names a marker; the apparatus is none with clamps; the method states no voltage, or no charging
/// time and the bench neither; it charges for longer than the bench may.
[[nodiscard]] Result<std::vector<OpenPlace>> open_places(const std::vector<PlanPlace>& places,
                                                         const plan::Method& method, const plan::Bench& bench,
                                                         Sequence sequence, std::uint64_t seed);

}  // namespace ebbtide::work
