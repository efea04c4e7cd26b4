#pragma once
// Planning: how many specimens, and what a plan accepts.

#include <nlohmann/json.hpp>
#include <optional>
#include <string>
#include <vector>

#include "basis/result.hpp"
#include "stats/sampling_plan.hpp"

namespace ebbtide::work {

struct SamplingRequest {
    stats::Claim claim = {};            ///< to be shown of a lot
    std::optional<double> beyond = {};  ///< share over the limit that the lot is believed to have
    double power = 0.8;                 ///< how surely it is to be shown
    stats::Risks risks = {};            ///< of plans that accept or reject
    std::optional<int> specimens = {};  ///< that can be had: what would they show?
};

/// One point of an operating characteristic: probability of acceptance.
struct OcPoint {
    double beyond = 0, by_variables = 0, by_attributes = 0;
};

struct Sampling {
    SamplingRequest request;
    std::optional<int> needed;    ///< specimens to show the claim at that power
    std::optional<double> power;  ///< of the specimens that can be had
    int needed_without_law = 0;   ///< specimens that must all be within the limit, by order alone
    std::optional<stats::VariablesPlan> variables;
    std::optional<stats::AttributesPlan> attributes;
    std::vector<OcPoint> oc;  ///< of both plans
};

/// Errors: shares and probabilities out of their ranges; risks in the wrong order; no plan is small enough.
[[nodiscard]] Result<Sampling> plan_sampling(const SamplingRequest& request);

/// What the figures mean, for people: first how to show the claim, then the two plans.
[[nodiscard]] std::vector<std::string> in_words(const Sampling& sampling);

/// ebbtide.plan/1, docs/formats/lot.md.
[[nodiscard]] nlohmann::json json_of(const Sampling& sampling);

}  // namespace ebbtide::work
