#pragma once
// The figures of one run that was cut, as the request asks for them: with its law and its Monte Carlo
// calculation, or, without a specimen, the level that was held.

#include <optional>
#include <string>

#include "decay/figures.hpp"
#include "decay/run_law.hpp"
#include "work/measure.hpp"

namespace ebbtide::work {

/// `laws` as in the request, with the modes of the bench worked out; `run_id` names the draws. Pure.
[[nodiscard]] decay::Figures figures_of_run(const decay::RunTrace& run, const RunPlace& place,
                                            const MeasureRequest& request,
                                            const std::optional<decay::LawQuestion>& laws,
                                            const std::string& run_id);

}  // namespace ebbtide::work
