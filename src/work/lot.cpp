#include "work/lot.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>

#include "stats/moments.hpp"
#include "stats/order_statistics.hpp"
#include "stats/profile_interval.hpp"
#include "work/lot_words.hpp"
#include "work/specimen_means.hpp"

namespace ebbtide::work {
namespace {

using stats::Known;
using stats::Observation;

constexpr double usual_confidence = 0.95;

void take_sample(const std::vector<LotTime>& times, Lot& lot) {
    lot.values = times.size();
    for (const auto& specimen : by_specimen(times)) {
        std::vector<Observation> observations;
        for (const LotTime* one : specimen) observations.push_back(one->time);
        const auto mean = mean_of(observations);
        if (!mean) {
            lot.left_out.push_back(fmt::format(
                "specimen {}: some times are lower bounds, others upper ones: their mean is not bounded",
                specimen.front()->specimen));
            continue;
        }
        lot.sample.push_back(*mean);
        switch (mean->known) {
            case Known::exactly:
                ++lot.measured;
                break;
            case Known::at_least:
                ++lot.not_reached;
                break;
            case Known::at_most:
                ++lot.below_resolution;
                break;
            case Known::between:
                ++lot.between_bounds;
                break;
        }
    }
    lot.specimens = lot.sample.size();
}

/// What replicates say, where specimens have several that were measured.
void look_at_replicates(const std::vector<LotTime>& times, Lot& lot) {
    const auto specimens = by_specimen(times);
    std::vector<std::vector<double>> values(specimens.size());
    std::vector<stats::Replicate> sequence;
    for (std::size_t i = 0; i < specimens.size(); ++i)
        for (const LotTime* one : specimens[i]) {
            if (one->time.known != Known::exactly) continue;
            values[i].push_back(std::log(one->time.value));
            if (one->replicate) sequence.push_back({i, *one->replicate, values[i].back()});
        }
    lot.variation = stats::specimen_variation(values);
    lot.trend = stats::replicate_trend(sequence);
}

/// Pairs of groups by one column of the times. A specimen that stands in both groups (a face, a polarity)
/// gives each its own mean; that the two belong together is not used, which makes the test a careful one.
void compare_by(const char* kind, std::string LotTime::*column, const std::vector<LotTime>& times, Lot& lot) {
    std::map<std::string, std::vector<LotTime>> groups;
    for (const LotTime& one : times)
        if (!(one.*column).empty()) groups[one.*column].push_back(one);
    std::vector<std::pair<std::string, stats::GroupMean>> means;
    for (const auto& group : groups) {
        std::vector<Observation> sample;
        for (const auto& specimen : by_specimen(group.second)) {
            std::vector<Observation> observations;
            for (const LotTime* one : specimen) observations.push_back(one->time);
            if (const auto mean = mean_of(observations)) sample.push_back(*mean);
        }
        if (const auto mean = group_mean(sample)) means.emplace_back(group.first, *mean);
    }
    for (std::size_t i = 0; i < means.size(); ++i)
        for (std::size_t j = i + 1; j < means.size(); ++j) {
            const stats::Difference found =
                stats::difference_of(means[i].second, means[j].second, usual_confidence);
            lot.differences.push_back({kind,
                                       means[i].first,
                                       means[j].first,
                                       std::exp(found.difference),
                                       {std::exp(*found.interval.low), std::exp(*found.interval.high)},
                                       found.p,
                                       stats::equivalence_p(found, std::log(lot.request.alike_within))});
        }
}

void look_at_differences(const std::vector<LotTime>& times, Lot& lot) {
    compare_by("direction", &LotTime::direction, times, lot);
    compare_by("face", &LotTime::face, times, lot);
    compare_by("polarity", &LotTime::polarity, times, lot);
    std::vector<double> p;
    for (const LotDifference& one : lot.differences) p.push_back(one.p);
    const std::vector<double> corrected = stats::holm(p);
    for (std::size_t i = 0; i < corrected.size(); ++i) lot.differences[i].p = corrected[i];
}

LotLaw law_of(const Lot& lot, stats::Family family) {
    LotLaw law;
    const stats::LogSample sample(lot.sample, family);
    law.fit = stats::fit_censored(sample);
    if (!law.fit.fitted()) return law;
    const double fall = stats::likelihood_fall(usual_confidence, static_cast<double>(lot.specimens));
    law.location = stats::interval_of_location(sample, law.fit, fall);
    law.scale = stats::interval_of_scale(sample, law.fit, fall);
    if (!lot.request.limit_s) return law;
    const double limit_s = *lot.request.limit_s;
    if (family == stats::Family::lognormal && lot.complete()) {
        const stats::Moments moments = stats::moments_of(log_times(lot.sample));
        law.beyond = stats::normal_share_beyond(moments.mean, moments.s(), static_cast<int>(lot.specimens),
                                                std::log(limit_s), usual_confidence);
    } else {
        law.beyond = {law.fit.share_beyond(limit_s),
                      stats::interval_of_share_beyond(sample, law.fit, limit_s, fall)};
    }
    return law;
}

std::optional<double> exp_of(const std::optional<double>& logarithm) {
    return logarithm ? std::optional(std::exp(*logarithm)) : std::nullopt;
}

void take_quantiles(Lot& lot) {
    const stats::CensoredFit& fit = lot.lognormal.fit;
    if (!fit.fitted()) return;
    const stats::LogSample sample(lot.sample, stats::Family::lognormal);
    const double fall = stats::likelihood_fall(usual_confidence, static_cast<double>(lot.specimens));
    for (const double share : {0.5, 0.9, 0.95}) {
        const stats::ConfidenceInterval interval = stats::interval_of_log_quantile(sample, fit, share, fall);
        lot.quantiles.push_back(
            {share, std::exp(fit.log_quantile(share)), {exp_of(interval.low), exp_of(interval.high)}});
    }
}

/// By the exact factors where all are measured, else by likelihood, which is approximate.
LotBound bound_by_law(const Lot& lot, const stats::Claim& claim, bool two_sided) {
    LotBound bound;
    bound.claim = claim;
    bound.two_sided = two_sided;
    if (!lot.lognormal.fit.fitted()) {
        bound.missing = stats::in_words(lot.lognormal.fit.outcome);
        return bound;
    }
    const int n = static_cast<int>(lot.specimens);
    if (lot.complete()) {
        const stats::Moments moments = stats::moments_of(log_times(lot.sample));
        bound.factor = two_sided ? stats::two_sided_factor(n, claim) : stats::one_sided_factor(n, claim);
        bound.upper_s = std::exp(moments.mean + *bound.factor * moments.s());
        if (two_sided) bound.lower_s = std::exp(moments.mean - *bound.factor * moments.s());
        return bound;
    }
    bound.way = LotBound::Way::likelihood;
    const stats::LogSample sample(lot.sample, stats::Family::lognormal);
    // One side of an interval of 2 C - 1 leaves out 1 - C.
    bound.upper_s = exp_of(stats::interval_of_log_quantile(
                               sample, lot.lognormal.fit, claim.share,
                               stats::likelihood_fall(2 * claim.confidence - 1, static_cast<double>(n)))
                               .high);
    if (!bound.upper_s) bound.missing = "the times that were not reached leave it without an end";
    return bound;
}

LotBound bound_by_order(const Lot& lot, const stats::Claim& claim) {
    LotBound bound;
    bound.way = LotBound::Way::order;
    bound.claim = claim;
    const auto rank = stats::rank_of_upper_bound(static_cast<int>(lot.specimens), claim);
    if (!rank) {
        bound.missing = fmt::format("without an assumption on how times are spread it takes {} specimens",
                                    stats::least_specimens_one_sided(claim));
        return bound;
    }
    // Upper ends of what is known of each time, the largest first; a time without one stands above all.
    std::vector<double> ends;
    std::size_t endless = 0;
    for (const Observation& one : lot.sample) {
        if (one.known == Known::at_least)
            ++endless;
        else
            ends.push_back(one.known == Known::between ? one.upper : one.value);
    }
    std::ranges::sort(ends, std::greater<>());
    const auto place = static_cast<std::size_t>(*rank) - 1;
    if (place < endless)
        bound.missing = "too many specimens did not reach the level";
    else
        bound.upper_s = ends[place - endless];
    return bound;
}

void take_bounds(Lot& lot) {
    if (!lot.request.no_claim.empty() || lot.specimens < 2) return;
    std::vector<stats::Claim> claims{lot.request.claim};
    for (const stats::Claim& usual :
         {stats::Claim{0.90, 0.95}, stats::Claim{0.95, 0.95}, stats::Claim{0.99, 0.95}})
        if (usual.share != lot.request.claim.share || usual.confidence != lot.request.claim.confidence)
            claims.push_back(usual);
    for (const stats::Claim& claim : claims) {
        lot.tolerance.push_back(bound_by_law(lot, claim, false));
        lot.tolerance.push_back(bound_by_order(lot, claim));
        if (lot.complete()) lot.tolerance.push_back(bound_by_law(lot, claim, true));
    }
}

void count_over_limit(Lot& lot) {
    if (!lot.request.limit_s) return;
    int over = 0;
    for (const Observation& one : lot.sample) {
        const double limit_s = *lot.request.limit_s;
        const bool surely_over = one.value > limit_s && one.known != Known::at_most;
        const bool surely_within =
            one.known != Known::at_least && (one.known == Known::between ? one.upper : one.value) <= limit_s;
        // A bound at the limit itself: the level was not reached by then, so the time is longer.
        const bool at_limit = one.known == Known::at_least && one.value == limit_s;
        if (!surely_over && !surely_within && !at_limit) return;
        over += surely_over || at_limit;
    }
    lot.over_limit = over;
}

/// Shown by the law or, where it does not describe the times, by their order; refuted by the law alone.
void decide_claim(Lot& lot) {
    if (!lot.request.limit_s || !lot.request.no_claim.empty() || lot.specimens < 2) return;
    const double limit_s = *lot.request.limit_s;
    const stats::Claim& claim = lot.request.claim;
    const LotBound &law = lot.tolerance[0], &order = lot.tolerance[1];
    const bool law_holds = lot.lognormal.fit.fitted() && !(lot.normality && lot.normality->p < 0.05);
    lot.showing = stats::Showing::open;
    if (law_holds) {
        if (law.upper_s && *law.upper_s <= limit_s) lot.showing = stats::Showing::shown;
        const stats::LogSample sample(lot.sample, stats::Family::lognormal);
        const int n = static_cast<int>(lot.specimens);
        std::optional<double> lower_s;
        if (lot.complete()) {
            const stats::Moments moments = stats::moments_of(log_times(lot.sample));
            lot.showing = stats::showing_of(moments.mean, moments.s(), n, std::log(limit_s), claim);
            if (lot.showing == stats::Showing::open)
                lot.outlook =
                    stats::outlook(moments.mean, moments.s(), n, std::log(limit_s), claim, 3, 20261126);
        } else {
            lower_s = exp_of(stats::interval_of_log_quantile(
                                 sample, lot.lognormal.fit, claim.share,
                                 stats::likelihood_fall(2 * claim.confidence - 1, static_cast<double>(n)))
                                 .low);
            if (lower_s && *lower_s > limit_s) lot.showing = stats::Showing::refuted;
        }
    } else if (order.upper_s && *order.upper_s <= limit_s) {
        lot.showing = stats::Showing::shown;
    }
    // So many specimens over the limit that no share of them is left to doubt.
    if (lot.over_limit &&
        *stats::clopper_pearson(*lot.over_limit, static_cast<int>(lot.specimens), 2 * claim.confidence - 1)
                .low > 1 - claim.share)
        lot.showing = stats::Showing::refuted;
    if (lot.showing == stats::Showing::open && law_holds && lot.lognormal.beyond)
        if (const double beyond = lot.lognormal.beyond->estimate; beyond > 1e-6)
            lot.needed = stats::specimens_to_show(claim, beyond, 0.8);
    if (lot.failed_specimen && lot.showing == stats::Showing::shown) lot.showing = stats::Showing::open;
}

/// How surely the claim is true, and how often such a test would be wrong.
void assess_risk(Lot& lot) {
    if (!lot.showing || lot.failed_specimen) return;
    const double limit_s = *lot.request.limit_s;
    const stats::Claim& claim = lot.request.claim;
    const int n = static_cast<int>(lot.specimens);
    if (lot.request.history) {
        const stats::LotHistory& history = lot.request.history->history;
        lot.conforming = stats::probability_conforming(history, lot.sample, limit_s, claim.share);
        lot.global_risk = stats::global_lot_risk(history, n, limit_s, claim);
    } else if (lot.complete() && lot.lognormal.fit.fitted()) {
        const stats::Moments moments = stats::moments_of(log_times(lot.sample));
        lot.conforming =
            stats::confidence_conforming(moments.mean, moments.s(), n, std::log(limit_s), claim.share);
    }
}

}  // namespace

Result<Lot> describe_lot(const std::vector<LotTime>& times, const LotRequest& request,
                         std::vector<std::string> left_out, bool failed_specimen) {
    const auto within = [](double number, double low, double high) { return number > low && number < high; };
    if (!within(request.claim.share, 0, 1) || !within(request.claim.confidence, 0.5, 1))
        return Error{Fault::bad_input,
                     fmt::format("a share of {} with a confidence of {} is no claim", request.claim.share,
                                 request.claim.confidence),
                     "--share, --confidence",
                     "Give a share between 0 and 1 and a confidence between 0.5 and 1"};
    if (request.limit_s && !(std::isfinite(*request.limit_s) && *request.limit_s > 0))
        return Error{Fault::bad_input, fmt::format("{} is no limit", *request.limit_s), "--limit",
                     "Give seconds above zero"};
    if (!(std::isfinite(request.alike_within) && request.alike_within > 1))
        return Error{Fault::bad_input, fmt::format("{} is no factor above 1", request.alike_within),
                     "--alike-within", "Give a factor above 1, such as 1.25"};
    Lot lot;
    lot.request = request;
    lot.left_out = std::move(left_out);
    lot.failed_specimen = failed_specimen;
    take_sample(times, lot);
    if (lot.sample.empty())
        return Error{Fault::bad_input, "no specimen has a time that could be used", "the lot",
                     "Measure longer, or with less noise"};
    lot.product_limit = stats::kaplan_meier(lot.sample);
    if (!lot.product_limit) lot.turnbull = stats::turnbull(lot.sample);
    lot.lognormal = law_of(lot, stats::Family::lognormal);
    lot.weibull = law_of(lot, stats::Family::weibull);
    take_quantiles(lot);
    count_over_limit(lot);
    if (lot.complete()) {
        lot.normality = stats::anderson_darling(log_times(lot.sample));
        lot.furthest = stats::grubbs(log_times(lot.sample));
    }
    look_at_replicates(times, lot);
    look_at_differences(times, lot);
    take_bounds(lot);
    decide_claim(lot);
    assess_risk(lot);
    say_in_words(lot);
    return lot;
}

}  // namespace ebbtide::work
