#pragma once
// From runs to a statement of conformity.

#include <optional>
#include <string>
#include <vector>

#include "decay/figures.hpp"
#include "plan/conformity.hpp"
#include "plan/method.hpp"
#include "plan/order.hpp"
#include "plan/specification.hpp"

namespace ebbtide::judge {

/// A run as judged. Flags carry the consequence that the method sets.
struct JudgedRun {
    plan::RunKey key;
    std::string run_id;  ///< empty for a planned run that was not recorded
    std::optional<decay::Figures> figures;
    std::vector<plan::Flag> flags;  ///< of the recording, the figures, the conditions and the order
    bool counts = false;            ///< no flag voids it
    bool fails = false;             ///< a flag fails the specimen
    bool without_specimen = false;  ///< a reference run: listed, never judged
};

/// How a statistic relates to its true value.
enum class BoundKind { value, at_least, at_most, none };

/// What would turn a conditional pass into a pass, or show that nothing of the kind does.
struct Advice {
    std::string source;                                  ///< of the contribution whose uncertainty is halved
    double expanded_u_s = 0;                             ///< U of the result then
    plan::Conformity outcome = plan::Conformity::void_;  ///< then, the value as it is
};

/// What would settle a conditional result, its value as it is.
struct Relief {
    double expanded_u_s = 0;  ///< U must fall under this
    std::optional<int> runs;  ///< averaging over so many runs in all does it; absent: no number of them does
};

/// A requirement applied to one run or to one group of runs.
struct Finding {
    std::string group;              ///< "W1 front dry + 2", "warp, as received"
    std::vector<std::size_t> runs;  ///< indices into Judgement::runs
    BoundKind bound = BoundKind::none;
    std::optional<double> value_s;           ///< the statistic, or the bound on it
    std::optional<double> u_s;               ///< measurement uncertainty of it (never merged with spread)
    std::optional<double> expanded_u_s;      ///< U at 95 %
    std::optional<double> spread_s;          ///< standard deviation between runs, n >= 2
    std::optional<double> wrong_acceptance;  ///< probability that the true value is over the limit (JCGM
                                             ///< 106:2012, 7.2), when accepted
    plan::Conformity outcome = plan::Conformity::void_;
    std::string reason;                             ///< in words
    std::optional<double> wrong_rejection = {};     ///< the same within the limit, when not accepted
    std::optional<double> degrees_of_freedom = {};  ///< effective, of u_s; absent when infinite
    std::optional<double> guard_s = {};  ///< width w of the guard band that was applied; absent when simple
    std::vector<decay::Contribution> budget = {};  ///< of the statistic, one line a source, largest first
    std::vector<Advice> advice = {};               ///< conditional outcomes only; most helpful first
    std::optional<Relief> relief = {};             ///< conditional outcomes that a smaller U can settle
    std::string grade = {};               ///< the best class whose limit the value meets; mostly empty
    std::optional<double> supplied = {};  ///< value of a supplied quantity, instead of value_s
    std::optional<double> u_supplied = {};
};

/// Risks of the decision rule before anything is measured, for a material with a known history.
struct PriorRisk {
    plan::History history;
    double u_s = 0;       ///< standard uncertainty that was reckoned with
    double guard_s = 0;   ///< guard band that was reckoned with; 0 under the simple rule
    double consumer = 0;  ///< share of all results that pass although the true value is over the limit
    double producer = 0;  ///< share of all results that do not pass although the true value is within it
};

struct RequirementOutcome {
    std::string demand;  ///< id of the demand it belongs to
    plan::Requirement requirement;
    std::vector<Finding> findings;
    plan::Conformity outcome = plan::Conformity::void_;
    std::optional<PriorRisk> prior_risk = {};  ///< where the order gives the material's history
};

struct Judgement {
    std::vector<JudgedRun> runs;
    std::vector<RequirementOutcome> requirements;
    plan::Conformity statement = plan::Conformity::void_;
    std::vector<std::string> reasons;   ///< why the statement is what it is, in words, most important first
    std::vector<std::string> cautions;  ///< what the numbers do not prove
};

/// Judges runs against a specification. `runs` holds every planned run (recorded or not) with its flags but
/// without consequences applied: the method's are set here. Apparatus is checked by the caller.
[[nodiscard]] Judgement judge(std::vector<JudgedRun> runs, const plan::Order& order,
                              const plan::Method& method, const plan::Specification& specification);

}  // namespace ebbtide::judge
