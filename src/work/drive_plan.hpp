#pragma once
// What is still to be driven of an order: its open places, in which sequence, and what each run is to do.

#include <cstdint>
#include <string>
#include <vector>

#include "basis/result.hpp"
#include "bench/guarded_run.hpp"
#include "record/order_record.hpp"

namespace ebbtide::work {

enum class Sequence {
    planned,     ///< as the order lists them
    alternated,  ///< within one mounting the polarities take turns
    randomised,  ///< within one mounting, seeded
};
[[nodiscard]] std::string_view name_of(Sequence sequence);
[[nodiscard]] std::optional<Sequence> sequence_named(std::string_view name);

/// A place of the plan whose recording is not there yet.
struct OpenPlace {
    plan::RunKey key;
    std::string file;  ///< relative to the order's folder; will hold this run alone
    bool without_specimen = false;
    bool mount = true;  ///< another specimen or face than the place before
    bench::RunAim aim = {};
};

/// Open places in the sequence in which they are driven: places of one specimen, face and conditions that
/// stand together in the order are one mounting. `is_there` says whether a recording of the order exists.
/// Errors: the bench has no [drive] table, or names a marker; the apparatus is none with clamps; the method
/// states no voltage, or no charging time and the bench neither; it charges for longer than the bench may; a
/// missing recording holds several runs or is no .ebbrec; nothing is planned.
[[nodiscard]] Result<std::vector<OpenPlace>> open_places(const record::OrderRecord& documents,
                                                         const plan::Bench& bench, Sequence sequence,
                                                         std::uint64_t seed,
                                                         const std::function<bool(const std::string&)>& is_there);

}  // namespace ebbtide::work
