#pragma once
// Runs without specimen: what the fixture reads when nothing lies in it is V0 of the runs that have a
// specimen.

#include <functional>
#include <map>
#include <memory>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "basis/result.hpp"
#include "decay/figures.hpp"
#include "plan/method.hpp"
#include "plan/order.hpp"
#include "recording/source.hpp"
#include "work/measure.hpp"

namespace ebbtide::work {

/// V0 for each polarity and conditions.
using ReferenceLevels = std::map<std::pair<plan::Polarity, std::string>, decay::ReferenceLevel>;

using OpenRecording =
    std::function<Result<std::unique_ptr<recording::Source>>(const plan::PlannedRecording& planned)>;

/// Measures the runs without specimen that the order plans. Those of one polarity under the same conditions
/// are averaged; one that is set aside, that a flag voids or whose polarity is not the planned one gives
/// nothing. Nothing is read for methods that refer to no such run. Errors: those of the recordings; the order
/// lists a run without specimen and the method refers to none.
[[nodiscard]] Result<ReferenceLevels> reference_levels(const plan::Order& order, const plan::Method& method,
                                                       const std::optional<plan::Bench>& bench,
                                                       const OpenRecording& open);

/// What hung in the clamps of a recording that holds a reference run of a bench check; nothing of others, and
/// of the empty fixture where the method takes V0 from it.
[[nodiscard]] std::optional<plan::Mounted> checked_in(const plan::PlannedRecording& planned,
                                                      const plan::Method& method);

/// How the runs of a planned recording are measured, in their order; empty where the method refers to no run
/// without specimen.
[[nodiscard]] std::vector<RunPlace> places_of(const plan::PlannedRecording& planned,
                                              const plan::Method& method, const ReferenceLevels& levels);

/// Flags of a run without specimen: of its polarity, conditions and calibrations; nothing is charged and
/// nothing decays.
[[nodiscard]] std::vector<plan::Flag> reference_flags(const decay::Figures& figures, const plan::RunKey& key,
                                                      const plan::Order& order, const plan::Method& method,
                                                      const std::optional<plan::Bench>& bench);

}  // namespace ebbtide::work
