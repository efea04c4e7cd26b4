#pragma once
// What tested specimens say of the lot they were taken from, with how sure that is. Pure: times in, figures
// and sentences out.

#include <nlohmann/json.hpp>
#include <optional>
#include <string>
#include <vector>

#include "basis/result.hpp"
#include "plan/level.hpp"
#include "stats/censored_fit.hpp"
#include "stats/comparison.hpp"
#include "stats/kaplan_meier.hpp"
#include "stats/lot_risk.hpp"
#include "stats/normality.hpp"
#include "stats/proportion.hpp"
#include "stats/replicates.hpp"
#include "stats/sampling_plan.hpp"
#include "stats/turnbull.hpp"
#include "work/lot_times.hpp"

namespace ebbtide::work {

/// What is known of the material from earlier lots.
struct LotPrior {
    stats::LotHistory history;
    std::string source;  ///< where it comes from, for people
    std::optional<plan::Level> level =
        {};  ///< that its times are to; absent: that of whatever lot it is used for
};

struct LotRequest {
    std::optional<double> limit_s = {};  ///< a time above it does not meet the requirement
    stats::Claim claim = {};             ///< what is to be shown of the lot
    double alike_within = 1.25;  ///< groups whose times differ by less than this factor are as good as alike
    /// Why the sampling supports no claim on the lot; empty: it does.
    std::string no_claim = {};
    std::optional<LotPrior> history = {};  ///< for the risk of a wrong statement
};

/// The law fitted, and what it says.
struct LotLaw {
    stats::CensoredFit fit;
    stats::ConfidenceInterval location, scale;  ///< 95 %, of mu and sigma of the logarithms
    std::optional<stats::ShareBeyond> beyond;   ///< share of the lot over the limit, 95 %
};

/// A time that a share of the lot does not exceed, and its 95 % interval, by the lognormal law.
struct LotQuantile {
    double share = 0;
    double decay_s = 0;
    stats::ConfidenceInterval interval = {};
};

/// A bound for a share of the lot, by one way of reckoning.
struct LotBound {
    enum class Way { lognormal, likelihood, order } way = Way::lognormal;
    bool two_sided = false;
    stats::Claim claim;
    std::optional<double> factor = {};  ///< k of the lognormal way
    std::optional<double> lower_s = {}, upper_s = {};
    std::string missing = {};  ///< why there is no bound
};

/// Two groups of one kind, e.g. warp and filling.
struct LotDifference {
    std::string kind, first, second;
    double ratio = 1;                               ///< of typical times, first over second
    stats::ConfidenceInterval ratio_interval = {};  ///< 95 %
    double p = 1;                                   ///< corrected for all pairs that were looked at
    double alike_p = 1;  ///< of the claim that the ratio lies within the factor of the request
};

struct Lot {
    LotRequest request;
    std::size_t values = 0, specimens = 0;  ///< replicates count as one specimen
    std::size_t measured = 0, not_reached = 0, below_resolution = 0, between_bounds = 0;  ///< of specimens
    std::vector<std::string> left_out;       ///< what could not be used, and why
    bool failed_specimen = false;            ///< one failed by a flag: no claim can be shown
    std::vector<stats::Observation> sample;  ///< one a specimen: the geometric mean of its times
    std::optional<std::vector<stats::SurvivalStep>> product_limit;
    std::optional<stats::TurnbullEstimate> turnbull;  ///< where there are upper bounds or intervals
    LotLaw lognormal, weibull;
    std::vector<LotQuantile> quantiles;
    std::vector<LotBound> tolerance;
    std::optional<int> over_limit;                    ///< specimens, where each is known to lie on one side
    std::optional<stats::AndersonDarling> normality;  ///< of log times, where all are measured
    std::optional<stats::FurthestValue> furthest;     ///< the same; its place is that in `sample`
    std::optional<stats::SpecimenVariation> variation;
    std::optional<stats::ReplicateTrend> trend;
    std::vector<LotDifference> differences;
    std::optional<stats::Showing> showing;  ///< absent: no limit, no claim is supported, or too few specimens
    std::optional<stats::Outlook> outlook;  ///< of three more specimens, where the claim is open
    /// Specimens in all that would show the claim four times out of five if the lot is as these look.
    std::optional<int> needed;
    /// Probability that the claim is true of the lot: by its history or, without one, the confidence at which
    /// the bound just meets the limit. What it falls short of 1 by is the specific risk of a wrong
    /// acceptance, itself that of a wrong rejection (JCGM 106:2012, 9.3).
    std::optional<double> conforming;
    std::optional<stats::GlobalLotRisk> global_risk;  ///< of such tests of lots of the history (9.5)
    std::string in_plain_words;         ///< why the lot passed, failed or stayed open, without statistics
    std::vector<std::string> reasons;   ///< why, for people; most important first
    std::vector<std::string> cautions;  ///< what these numbers do not prove

    [[nodiscard]] bool complete() const { return measured == specimens; }
};

/// Errors: no times; a bound of the request that is out of its range. What the times cannot tell is absent,
/// and said in words. `left_out` and `failed_specimen` come from where the times do.
[[nodiscard]] Result<Lot> describe_lot(const std::vector<LotTime>& times, const LotRequest& request,
                                       std::vector<std::string> left_out = {}, bool failed_specimen = false);

/// As docs/formats/lot.md has it, without "schema".
[[nodiscard]] nlohmann::json json_of(const Lot& lot);

[[nodiscard]] std::string_view name_of(LotBound::Way way);       ///< "lognormal", ...
[[nodiscard]] std::string_view name_of(stats::Showing showing);  ///< "shown", "open", "refuted"

/// "90 % of the lot are within the limit, with 95 % confidence".
[[nodiscard]] std::string in_words(const stats::Claim& claim);
/// "12 %", "0.4 %".
[[nodiscard]] std::string share_text(double share);

}  // namespace ebbtide::work
