#pragma once
// Whether method, specification and bench speak of the same apparatus.

#include <optional>

#include "basis/result.hpp"
#include "plan/bench.hpp"
#include "plan/method.hpp"
#include "plan/specification.hpp"

namespace ebbtide::judge {

/// The Error of an order whose recordings cannot answer its requirements: method, specification and bench
/// name different kinds of apparatus, or no bench says that the recordings come from the one the method
/// needs. An order without a bench is taken for clamp discharge only, where the flag bench_unknown says what
/// is missing.
[[nodiscard]] std::optional<Error> apparatus_conflict(const plan::Method& method,
                                                      const plan::Specification& specification,
                                                      const std::optional<plan::Bench>& bench);

}  // namespace ebbtide::judge
