#include "work/compare.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <set>

#include "stats/distributions.hpp"
#include "stats/moments.hpp"
#include "work/specimen_means.hpp"

namespace ebbtide::work {
namespace {

using stats::Known;
using stats::Observation;

constexpr double pair_confidence = 0.95;

/// Times of one group while it is worked on.
struct GroupTimes {
    ComparedGroup group;
    std::vector<LotTime> times;
    std::optional<stats::GroupMean> mean = {};
};

std::string label_by(const LotTime& time, const std::string& key) {
    if (key == "direction") return time.direction;
    if (key == "face") return time.face;
    if (key == "polarity") return time.polarity;
    const bool part_of_date = key == "month" || key == "year";
    const auto found = time.labels.find(part_of_date ? "date" : key);
    if (found == time.labels.end()) return "";
    return part_of_date ? found->second.substr(0, key == "month" ? 7 : 4) : found->second;
}

/// "warp, as received" of "direction,state"; empty where one of them is.
std::string group_of(const LotTime& time, const std::vector<std::string>& keys) {
    std::string out;
    for (const std::string& key : keys) {
        const std::string label = label_by(time, key);
        if (label.empty()) return "";
        out += (out.empty() ? "" : ", ") + label;
    }
    return out;
}

std::vector<std::string> keys_of(const std::string& by) {
    std::vector<std::string> out{""};
    for (const char c : by) {
        if (c == ',')
            out.emplace_back();
        else if (c != ' ')
            out.back() += c;
    }
    return out;
}

std::vector<Observation> means_of(const std::vector<LotTime>& times, const std::string& group,
                                  std::vector<std::string>& left_out) {
    std::vector<Observation> out;
    for (const auto& specimen : by_specimen(times)) {
        std::vector<Observation> observations;
        for (const LotTime* one : specimen) observations.push_back(one->time);
        if (const auto mean = mean_of(observations))
            out.push_back(*mean);
        else
            left_out.push_back(fmt::format(
                "{}, specimen {}: some times are lower bounds, others upper ones: their mean is not bounded",
                group, specimen.front()->specimen));
    }
    return out;
}

std::string why_no_mean(const ComparedGroup& group) {
    if (group.specimens == 0) return "no specimen has a time that could be used";
    if (group.specimens == 1) return "one specimen says nothing of how specimens differ";
    if (group.not_reached == group.specimens) return "none of its specimens reached the level";
    if (group.below_resolution == group.specimens) return "all of its specimens are below resolution";
    return "its times do not tell how specimens differ";
}

void describe(GroupTimes& one, std::vector<std::string>& left_out) {
    ComparedGroup& group = one.group;
    group.values = one.times.size();
    group.sample = means_of(one.times, group.name, left_out);
    group.specimens = group.sample.size();
    for (const Observation& each : group.sample)
        ++(each.known == Known::exactly    ? group.measured
           : each.known == Known::at_least ? group.not_reached
           : each.known == Known::at_most  ? group.below_resolution
                                           : group.between_bounds);
    one.mean = group_mean(group.sample);
    if (!one.mean) {
        group.missing = why_no_mean(group);
        return;
    }
    const double reach = stats::students_t_quantile((1 + pair_confidence) / 2, one.mean->degrees_of_freedom) *
                         std::sqrt(one.mean->variance);
    group.mean_s = std::exp(one.mean->mean);
    group.interval = {std::exp(one.mean->mean - reach), std::exp(one.mean->mean + reach)};
    if (group.measured == group.specimens)
        group.spread_factor = std::exp(stats::moments_of(log_times(group.sample)).s());
    else
        group.spread_factor = std::exp(stats::fit_censored(group.sample, stats::Family::lognormal).scale);
}

std::vector<GroupTimes> groups_of(const std::vector<LotTime>& times, const CompareRequest& request,
                                  std::vector<std::string>& left_out) {
    std::vector<GroupTimes> out;
    const std::vector<std::string> keys = keys_of(request.by);
    std::size_t without = 0;
    for (const LotTime& one : times) {
        const std::string name = group_of(one, keys);
        if (name.empty()) {
            ++without;
            continue;
        }
        auto found =
            std::ranges::find_if(out, [&](const GroupTimes& group) { return group.group.name == name; });
        if (found == out.end()) {
            out.emplace_back();
            out.back().group.name = name;
            found = out.end() - 1;
        }
        found->times.push_back(one);
    }
    if (without > 0)
        left_out.push_back(fmt::format("{} time{} without {}", without, without == 1 ? "" : "s", request.by));
    if (request.by == "date" || request.by == "month" || request.by == "year")
        std::ranges::sort(out, {}, [](const GroupTimes& one) { return one.group.name; });
    return out;
}

/// Where both groups hold the same specimens, all measured: what became of each, second less first.
std::optional<stats::GroupMean> paired_difference(const GroupTimes& first, const GroupTimes& second) {
    const auto means = [](const GroupTimes& group) -> std::map<std::string, double> {
        std::map<std::string, double> out;
        for (const auto& specimen : by_specimen(group.times)) {
            double mean = 0;
            for (const LotTime* one : specimen) {
                if (one->specimen.empty() || one->time.known != Known::exactly) return {};
                mean += std::log(one->time.value) / static_cast<double>(specimen.size());
            }
            out[specimen.front()->specimen] = mean;
        }
        return out;
    };
    const auto before = means(first), after = means(second);
    if (before.size() < 2 || before.size() != after.size()) return {};
    std::vector<double> changes;
    for (const auto& [specimen, mean] : before) {
        const auto found = after.find(specimen);
        if (found == after.end()) return {};
        changes.push_back(found->second - mean);
    }
    const stats::Moments moments = stats::moments_of(changes);
    if (!(moments.variance > 0)) return {};
    return stats::GroupMean{moments.mean, moments.variance / moments.n, moments.n - 1};
}

/// The mean of differences as a difference of means: it has an error and degrees of freedom of its own.
stats::Difference as_difference(const stats::GroupMean& change) {
    stats::Difference out;
    out.difference = change.mean;
    out.standard_error = std::sqrt(change.variance);
    out.degrees_of_freedom = change.degrees_of_freedom;
    out.p = 2 * stats::students_t_below(-std::abs(change.mean) / out.standard_error, out.degrees_of_freedom);
    const double reach =
        stats::students_t_quantile((1 + pair_confidence) / 2, out.degrees_of_freedom) * out.standard_error;
    out.interval = {out.difference - reach, out.difference + reach};
    return out;
}

void compare_pairs(const std::vector<GroupTimes>& groups, Comparison& comparison) {
    std::vector<double> p, alike;
    for (std::size_t i = 0; i < groups.size(); ++i)
        for (std::size_t j = i + 1; j < groups.size(); ++j) {
            if (!groups[i].mean || !groups[j].mean) continue;
            const auto change = paired_difference(groups[i], groups[j]);
            const stats::Difference found =
                change ? as_difference(*change)
                       : stats::difference_of(*groups[j].mean, *groups[i].mean, pair_confidence);
            p.push_back(found.p);
            alike.push_back(
                std::min(1.0, stats::equivalence_p(found, std::log(comparison.request.alike_within))));
            comparison.pairs.push_back({groups[i].group.name,
                                        groups[j].group.name,
                                        std::exp(found.difference),
                                        {std::exp(*found.interval.low), std::exp(*found.interval.high)},
                                        change.has_value(),
                                        found.p,
                                        1,
                                        1});
        }
    const std::vector<double> corrected = stats::holm(p), corrected_alike = stats::holm(alike);
    for (std::size_t i = 0; i < comparison.pairs.size(); ++i) {
        comparison.pairs[i].p = corrected[i];
        comparison.pairs[i].alike_p = corrected_alike[i];
    }
}

/// That all groups with a mean have one and the same, by one law with one spread.
void compare_all(const std::vector<GroupTimes>& groups, Comparison& comparison) {
    std::vector<const GroupTimes*> with_mean;
    for (const GroupTimes& one : groups)
        if (one.mean) with_mean.push_back(&one);
    if (with_mean.size() < 3) return;
    std::vector<stats::Place> own, together;
    double specimens = 0;
    for (std::size_t i = 0; i < with_mean.size(); ++i) {
        std::vector<double> covariates(with_mean.size(), 0.0);
        covariates[i] = 1;
        own.push_back({covariates, with_mean[i]->group.sample});
        together.push_back({{1}, with_mean[i]->group.sample});
        specimens += static_cast<double>(with_mean[i]->group.specimens);
    }
    const stats::RegressionFit free = stats::fit_regression(own, stats::Family::lognormal),
                               held = stats::fit_regression(together, stats::Family::lognormal);
    if (free.fitted() && held.fitted()) comparison.overall = stats::likelihood_ratio(free, held, specimens);
}

/// What a group's specimens of one day say, as one value: specimens of a day share what the day brought.
std::optional<Observation> value_of_day(const std::vector<Observation>& sample) {
    const bool exact =
        std::ranges::all_of(sample, [](const Observation& one) { return one.known == Known::exactly; });
    if (!exact)
        if (const auto mean = group_mean(sample)) return stats::exactly(std::exp(mean->mean));
    return mean_of(sample);
}

double years_of(const std::string& day) {
    constexpr double seconds_of_a_year = 365.2425 * 86400;
    return (start_of(*parse_date(day)) - start_of({2000, 1, 1})).seconds() / seconds_of_a_year;
}

void follow_time(const std::vector<GroupTimes>& groups, Comparison& comparison) {
    struct Day {
        std::size_t group;
        std::string day;
        Observation value;
    };
    std::vector<Day> values;
    std::set<std::string> days;
    bool several_in_one = false;
    for (std::size_t i = 0; i < groups.size(); ++i) {
        std::map<std::string, std::vector<LotTime>> by_day;
        for (const LotTime& one : groups[i].times)
            if (const auto day = one.labels.find("date"); day != one.labels.end())
                by_day[day->second].push_back(one);
        several_in_one = several_in_one || by_day.size() > 1;
        std::vector<std::string> said_already;
        for (const auto& day : by_day)
            if (const auto value = value_of_day(means_of(day.second, groups[i].group.name, said_already))) {
                values.push_back({i, day.first, *value});
                days.insert(day.first);
            }
    }
    if (days.size() < 3) return;
    const double middle = years_of(*std::next(days.begin(), static_cast<std::ptrdiff_t>(days.size() / 2)));
    const std::size_t levels = several_in_one ? groups.size() : 1;
    std::vector<stats::Place> with_time, without;
    std::set<std::size_t> used;
    for (const Day& day : values) used.insert(day.group);
    if (several_in_one && used.size() < levels) return;
    for (const Day& day : values) {
        std::vector<double> covariates(levels, 0.0);
        covariates[several_in_one ? day.group : 0] = 1;
        without.push_back({covariates, {day.value}});
        covariates.push_back(years_of(day.day) - middle);
        with_time.push_back({covariates, {day.value}});
    }
    const auto n = static_cast<double>(values.size());
    if (n <= static_cast<double>(levels) + 1) return;
    const stats::RegressionFit free = stats::fit_regression(with_time, stats::Family::lognormal),
                               held = stats::fit_regression(without, stats::Family::lognormal);
    if (!free.fitted() || !held.fitted()) return;
    const stats::LikelihoodRatio ratio = stats::likelihood_ratio(free, held, n);
    const double df = ratio.denominator_df;
    // The error of least squares, which divides by the degrees of freedom.
    const double error = free.standard_errors.back() * std::sqrt(n / df);
    const double reach = stats::students_t_quantile((1 + pair_confidence) / 2, df) * error;
    const double slope = free.slopes.back();
    comparison.trend = {
        slope, {slope - reach, slope + reach}, df, ratio.p, days.size(), *days.begin(), *days.rbegin()};
}

}  // namespace

Result<Comparison> compare(const std::vector<LotTime>& times, const CompareRequest& request,
                           std::vector<std::string> left_out) {
    const std::string remedy = fmt::format("Say one or several of: {}", fmt::join(compare_keys, ", "));
    for (const std::string& key : keys_of(request.by))
        if (std::ranges::find(compare_keys, key) == compare_keys.end())
            return Error{Fault::bad_input, fmt::format("'{}' is nothing to compare by", key), "--by", remedy};
    if (!(std::isfinite(request.alike_within) && request.alike_within > 1))
        return Error{Fault::bad_input, fmt::format("{} is no factor above 1", request.alike_within),
                     "--alike-within", "Give a factor above 1, such as 1.25"};
    Comparison out;
    out.request = request;
    out.left_out = std::move(left_out);
    std::vector<GroupTimes> groups = groups_of(times, request, out.left_out);
    if (groups.size() < 2)
        return Error{Fault::bad_input,
                     groups.empty()
                         ? fmt::format("no time says what its {} is", request.by)
                         : fmt::format("all times are of one {}: {}", request.by, groups.front().group.name),
                     "--by", remedy};
    if (groups.size() > most_compared_groups)
        return Error{Fault::bad_input,
                     fmt::format("{} groups; at most {} are compared", groups.size(), most_compared_groups),
                     "--by", "Compare by something coarser, such as month or year"};
    for (GroupTimes& one : groups) describe(one, out.left_out);
    compare_pairs(groups, out);
    compare_all(groups, out);
    follow_time(groups, out);
    for (GroupTimes& one : groups) out.groups.push_back(std::move(one.group));
    say_in_words(out);
    return out;
}

}  // namespace ebbtide::work
