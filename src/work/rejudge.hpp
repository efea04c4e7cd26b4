#pragma once
// Archived recordings judged again under another specification, other levels or another decision rule: read
// once, judged twice, and what differs.

#include <memory>
#include <nlohmann/json.hpp>
#include <string>
#include <vector>

#include "basis/result.hpp"
#include "plan/terms.hpp"
#include "work/judge_order.hpp"

namespace ebbtide::work {

/// Terms as a person writes them; empty texts leave the order's own.
struct TermsRequest {
    std::string
        specification;   ///< a file of the order, the id of a shipped one, or the path of any other .toml
    std::string levels;  ///< "0.1,1 %"
    std::string rule;    ///< "simple", "guarded", "guarded:0.83U", "guarded:0.02s"

    [[nodiscard]] bool any() const { return !specification.empty() || !levels.empty() || !rule.empty(); }
};

/// A specification from outside the order is laid beside its files as "terms/NAME.toml", so that a report can
/// attach it under that name. Errors: a level or a rule that is none; a specification that is not found.
[[nodiscard]] Result<plan::Terms> terms_from(const TermsRequest& request, std::unique_ptr<OrderFiles>& files);

/// One line of the comparison. An absent outcome was not asked under those terms.
struct Compared {
    std::string of;     ///< "statement", or the id of a requirement
    std::string group;  ///< of a finding: "W1 front dry + 2"; empty for the statement and whole requirements
    std::optional<plan::Conformity> agreed, instead;
    std::string agreed_result, instead_result;  ///< of a finding: "0.412 s", "at least 5 s"; may be empty

    [[nodiscard]] bool differs() const { return agreed != instead; }
};

struct Rejudged {
    JudgedOrder judged;       ///< under the other terms
    judge::Judgement agreed;  ///< of the same figures, under the order's own
    plan::Citation agreed_specification;
    std::vector<Compared> compared;  ///< the statement, every requirement, and the findings that differ
};

[[nodiscard]] Result<Rejudged> rejudge(const OrderFiles& files, const plan::Terms& terms, Instant made,
                                       const Progress& progress = {});

/// ebbtide.rejudge/1, docs/formats/rejudge.md.
[[nodiscard]] nlohmann::json json_of(const Rejudged& rejudged);

}  // namespace ebbtide::work
