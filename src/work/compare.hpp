#pragma once
// Materials, lots, suppliers, states side by side: whether they differ, are as good as alike, or change with
// time. Pure: times in, figures and sentences out.

#include <nlohmann/json.hpp>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "basis/instant.hpp"
#include "basis/result.hpp"
#include "stats/censored_regression.hpp"
#include "work/lot_times.hpp"

namespace ebbtide::work {

/// What groups may be formed by: a label of the times, their direction, face or polarity, or the time.
inline constexpr std::array<std::string_view, 15> compare_keys{
    "source", "group",     "material", "lot",      "supplier", "customer", "item",      "state",
    "date",   "direction", "face",     "polarity", "month",    "year",     "conditions"};
inline constexpr std::size_t most_compared_groups = 40;

struct CompareRequest {
    std::string by = "source";   ///< one of compare_keys, or several with commas between
    double alike_within = 1.25;  ///< groups whose times differ by less than this factor are as good as alike
};

struct ComparedGroup {
    std::string name;
    std::size_t values = 0, specimens = 0;
    std::size_t measured = 0, not_reached = 0, below_resolution = 0, between_bounds = 0;  ///< of specimens
    std::vector<stats::Observation> sample;                                               ///< one a specimen
    std::optional<double> mean_s = {};                                                    ///< geometric
    stats::ConfidenceInterval interval = {};                                              ///< 95 %, of mean_s
    std::optional<double> spread_factor = {};  ///< exp(standard deviation of ln t)
    std::string missing = {};                  ///< why there is no mean
};

/// The second group over the first.
struct ComparedPair {
    std::string first, second;
    double ratio = 1;                               ///< of geometric means
    stats::ConfidenceInterval ratio_interval = {};  ///< 95 %, of this pair alone
    bool paired = false;                            ///< the same specimens in both
    double p_alone = 1;                             ///< of so large a difference by chance
    double p = 1;                                   ///< the same, corrected for all pairs (Holm)
    double alike_p = 1;  ///< of the claim that the ratio lies within the factor, corrected likewise
};

/// Change with time, the same for all groups, whose levels are free where one of them has several days.
struct TimeTrend {
    double ln_per_year = 0;
    stats::ConfidenceInterval interval = {};  ///< 95 %, of ln_per_year
    double degrees_of_freedom = 0;
    double p = 1;
    std::size_t days = 0;
    std::string first_day, last_day;
};

struct Comparison {
    CompareRequest request;
    std::vector<ComparedGroup> groups;
    std::optional<stats::LikelihoodRatio> overall;  ///< that all groups have one mean, from three on
    std::vector<ComparedPair> pairs;                ///< of groups with a mean
    std::optional<TimeTrend> trend;
    std::vector<std::string> left_out, reasons, cautions;
};

/// Errors: no such key; fewer than two groups, or more than most_compared_groups; a factor not above 1. Times
/// without the label asked for are left out, and said so.
[[nodiscard]] Result<Comparison> compare(const std::vector<LotTime>& times, const CompareRequest& request,
                                         std::vector<std::string> left_out = {});

/// Sets `reasons` and `cautions` from everything else.
void say_in_words(Comparison& comparison);

/// ebbtide.compare/1, docs/formats/compare.md. `level` is that of orders; empty: tables alone.
[[nodiscard]] nlohmann::json comparison_json(const Comparison& comparison,
                                             const std::vector<std::string>& sources,
                                             const std::string& level);

}  // namespace ebbtide::work
