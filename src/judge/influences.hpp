#pragma once
// What a decay time owes to the air, to the clamping and to the material's own unrest, beside the
// instrument's share: lines of its budget that only an order can give.

#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "judge/judgement.hpp"
#include "plan/bench.hpp"

namespace ebbtide::judge {

inline constexpr std::string_view humidity_line = "relative humidity", temperature_line = "temperature",
                                  clamping_line = "clamping", replicates_line = "replicates";

/// Adds the lines to the budget of every measured decay time t, and updates its uncertainty, degrees of
/// freedom and the order of its lines. Returns the runs, settled by the method. Pure.
///
/// relative humidity, temperature   t ln 10 / (change a decade) times the hygrometer's u; negative, because
///                                  moist and warm is faster; shared by the bench and correlated as the bench
///                                  states. The item's sensitivity, field by field the method's where it
///                                  states none. First order: fair while the line is below a third of t.
/// clamping                         t times Fixture::u_clamping, shared by a series.
/// replicates                       t times what repeatability shows beyond the runs' own parts (below).
///
/// A line whose uncertainty is nought or whose sensitivity nobody states is left out; `missing_influences`
/// says so. Without a bench only the replicates are added.
[[nodiscard]] std::vector<JudgedRun> with_influences(std::vector<JudgedRun> runs, const plan::Order& order,
                                                     const plan::Method& method,
                                                     const std::optional<plan::Bench>& bench);

/// What a full budget would hold and these budgets do not, in words, with what would mend it; empty when no
/// counting run was measured.
[[nodiscard]] std::vector<std::string> missing_influences(std::span<const JudgedRun> runs,
                                                          const plan::Order& order,
                                                          const plan::Method& method,
                                                          const std::optional<plan::Bench>& bench);

/// From measured runs to a judgement: the influences added, the whole budgets carried through by Monte Carlo,
/// judged, and what is missing said among the cautions.
[[nodiscard]] Judgement judge_with_influences(std::vector<JudgedRun> runs, const plan::Order& order,
                                              const plan::Method& method,
                                              const plan::Specification& specification,
                                              const std::optional<plan::Bench>& bench,
                                              bool monte_carlo = false);

/// How steeply the material of a specimen follows one of the two, and who says so.
struct Steepness {
    double per_decade = 0;  ///< above 0; % RH or degrees Celsius
    std::string source;     ///< as stated, "from memory"
    bool of_item = false;   ///< else the method's default
};
enum class Influence { humidity, temperature };
[[nodiscard]] std::optional<Steepness> steepness_of(const std::string& specimen, Influence influence,
                                                    const plan::Order& order, const plan::Method& method);

/// Repeatability beyond what the runs' own budgets explain, from all series of the order with two counting,
/// measured replicates and more, in parts of their mean:
///     excess = s^2 - e,   s^2 = sum (t/mean - 1)^2 / sum (n - 1),
/// e the relative variance of run-scope parts, weighted by (n - 1)/n as s^2 weighs it. Absent when there is
/// no such series or when e explains s^2.
struct Repeatability {
    double relative_u = 0;  ///< root of the excess
    /// sum (n - 1) times (excess/s^2)^2: the difference is known less well than s^2 itself, by the
    /// propagation of the variance of a variance (Satterthwaite's formula solved for the remaining part).
    double degrees_of_freedom = 0;
};
[[nodiscard]] std::optional<Repeatability> repeatability_of(std::span<const JudgedRun> runs,
                                                            const plan::Level& level);

}  // namespace ebbtide::judge
