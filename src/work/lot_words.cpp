#include "work/lot_words.hpp"

#include <fmt/format.h>

#include <cmath>

#include "basis/number_text.hpp"

namespace ebbtide::work {
namespace {

using stats::Showing;

constexpr double rarely = 0.05;

std::string specimens_text(std::size_t count) {
    return fmt::format("{} specimen{}", count, count == 1 ? "" : "s");
}

void say_what_was_tested(Lot& lot) {
    std::string text = fmt::format("{}: {} measured", specimens_text(lot.specimens), lot.measured);
    if (lot.not_reached > 0)
        text += fmt::format(", {} that did not reach the level and {} as longer than the record",
                            lot.not_reached, lot.not_reached == 1 ? "counts" : "count");
    if (lot.below_resolution > 0)
        text += fmt::format(", {} below resolution that {} as shorter than its bound", lot.below_resolution,
                            lot.below_resolution == 1 ? "counts" : "count");
    if (lot.between_bounds > 0) text += fmt::format(", {} known between two bounds", lot.between_bounds);
    lot.reasons.push_back(text);
}

void say_claim(Lot& lot) {
    if (!lot.request.limit_s) return;
    if (!lot.showing) {
        lot.reasons.push_back(fmt::format("No claim on the lot: {}",
                                          !lot.request.no_claim.empty()
                                              ? lot.request.no_claim
                                              : "one specimen says nothing of how specimens differ"));
        return;
    }
    const std::string claim =
        fmt::format("{} of the lot take at most {}", share_text(lot.request.claim.share),
                    seconds_text(*lot.request.limit_s));
    const std::string surely = fmt::format("with {} confidence", share_text(lot.request.claim.confidence));
    const LotBound &law = lot.tolerance[0], &order = lot.tolerance[1];
    const std::string reach =
        law.upper_s ? fmt::format("the time that {} of the lot do not exceed is at most {}, {}",
                                  share_text(lot.request.claim.share), seconds_text(*law.upper_s), surely)
                    : fmt::format("that share's time has no upper bound: {}", law.missing);
    switch (*lot.showing) {
        case Showing::shown:
            lot.reasons.push_back(fmt::format("Shown, {}: {}", surely, claim));
            if (law.upper_s && *law.upper_s <= *lot.request.limit_s)
                lot.reasons.push_back(fmt::format("Because {}", reach));
            else
                lot.reasons.push_back(fmt::format(
                    "Because so many specimens are within the limit that the bound holds however times are "
                    "spread: at most {}",
                    seconds_text(*order.upper_s)));
            return;
        case Showing::open:
            lot.reasons.push_back(fmt::format("Open, neither shown nor refuted {}: {}", surely, claim));
            if (lot.failed_specimen)
                lot.reasons.push_back("A specimen failed without a decay time that could be used");
            lot.reasons.push_back(fmt::format("Because {}", reach));
            return;
        case Showing::refuted:
            lot.reasons.push_back(fmt::format("Refuted, {}: {}", surely, claim));
            lot.reasons.push_back(fmt::format("Because more than {} of the lot take longer, {}",
                                              share_text(1 - lot.request.claim.share), surely));
            return;
    }
}

void say_shares(Lot& lot) {
    if (lot.over_limit)
        lot.reasons.push_back(
            fmt::format("{} of {} are over the limit", *lot.over_limit, specimens_text(lot.specimens)));
    if (const auto& beyond = lot.lognormal.beyond)
        lot.reasons.push_back(fmt::format(
            "By the lognormal law {} of the lot would be over the limit; anything from {} to {} agrees with "
            "these specimens",
            share_text(beyond->estimate), share_text(beyond->interval.low.value_or(0)),
            share_text(beyond->interval.high.value_or(1))));
}

void say_likeness(Lot& lot) {
    for (const LotDifference& one : lot.differences)
        if (one.alike_p < rarely)
            lot.reasons.push_back(fmt::format(
                "{} {} and {} are shown to be as good as alike: typical times within a factor of {}",
                one.kind, one.first, one.second, significant_text(lot.request.alike_within, 3)));
}

void say_what_more_would_do(Lot& lot) {
    if (lot.outlook)
        lot.reasons.push_back(fmt::format(
            "Three more specimens would show it with a chance of {}, refute it with {}, and leave it open "
            "with {}",
            chance_text(lot.outlook->shown), chance_text(lot.outlook->refuted),
            chance_text(lot.outlook->open)));
    else if (lot.showing == Showing::open && !lot.complete())
        lot.reasons.push_back(
            "What three more specimens would settle is not worked out where times are bounds");
    const auto& beyond = lot.lognormal.beyond;
    if (lot.showing == Showing::open && beyond && beyond->estimate >= 1 - lot.request.claim.share)
        lot.reasons.push_back(
            "If the lot is as these specimens look, the claim is not true of it, and no number of specimens "
            "would show it");
    if (lot.needed)
        lot.reasons.push_back(fmt::format(
            "If the lot is as these specimens look, {} specimens in all would show it four times out of five",
            *lot.needed));
}

/// In a hundred, or in ten thousand where that is a small number.
std::string of_lots_text(double share) {
    if (share < 0.00005) return "fewer than 1 in 10,000";
    if (share < 0.0095) return fmt::format("{} in 10,000", fixed_text(10'000 * share, 0));
    return fmt::format("{} in 100", fixed_text(100 * share, share < 0.1 ? 1 : 0));
}

void say_risk(Lot& lot) {
    if (!lot.conforming) return;
    const double conforming = *lot.conforming;
    if (!lot.request.history) {
        if (lot.showing == Showing::open)
            lot.reasons.push_back(fmt::format("These specimens would show it with {} confidence at most",
                                              chance_text(conforming)));
        return;
    }
    const std::string& source = lot.request.history->source;
    if (lot.showing == Showing::shown)
        lot.reasons.push_back(fmt::format(
            "With the history of the material ({}) the chance that this acceptance is wrong is {}", source,
            chance_text(1 - conforming)));
    else if (lot.showing == Showing::refuted)
        lot.reasons.push_back(
            fmt::format("With the history of the material ({}) the chance that this rejection is wrong is {}",
                        source, chance_text(conforming)));
    else
        lot.reasons.push_back(fmt::format(
            "With the history of the material ({}) the chance that the lot is as good as claimed is {}",
            source, chance_text(conforming)));
    const stats::GlobalLotRisk& risk = *lot.global_risk;
    lot.reasons.push_back(
        fmt::format("Of lots such as that history has, {} are as good as claimed; tested with {} specimens "
                    "each, {} would "
                    "be accepted wrongly, {} rejected wrongly, and {} would be good and stay open",
                    of_lots_text(risk.conforming), lot.specimens, of_lots_text(risk.consumer),
                    of_lots_text(risk.producer), of_lots_text(risk.open_conforming)));
}

void warn_of_few(Lot& lot) {
    if (!lot.over_limit) return;
    const int n = static_cast<int>(lot.specimens);
    const double most = stats::clopper_pearson_upper(*lot.over_limit, n, 0.95);
    lot.cautions.push_back(
        fmt::format("Counted alone, without a law, {} within the limit of {} still allow {} of the lot over "
                    "it, at 95 % confidence",
                    n - *lot.over_limit, n, share_text(most)));
}

void warn_of_law(Lot& lot) {
    if (!lot.lognormal.fit.fitted()) {
        lot.cautions.push_back(
            fmt::format("No lognormal law: {}", stats::in_words(lot.lognormal.fit.outcome)));
        return;
    }
    if (lot.normality && lot.normality->p < rarely)
        lot.cautions.push_back(
            fmt::format("The logarithms of the times do not look normal (a chance of {}): bounds by the law "
                        "are not relied "
                        "on; those by order are",
                        chance_text(lot.normality->p)));
    else if (!lot.normality)
        lot.cautions.push_back(
            lot.complete()
                ? "Bounds rest on times being lognormal, which fewer than 8 specimens cannot contradict"
                : "Bounds rest on times being lognormal, which is not tested where some are bounds: look at "
                  "the probability plot");
    if (!lot.complete())
        lot.cautions.push_back(
            lot.specimens < 20
                ? "Intervals and bounds by likelihood are approximate with fewer than 20 specimens"
                : "Intervals and bounds are by likelihood, which holds for large samples");
}

void warn_of_specimens(Lot& lot) {
    if (lot.furthest && lot.furthest->p < rarely)
        lot.cautions.push_back(fmt::format(
            "Specimen {} stands apart, {} standard deviations from the mean of log times (a chance of {}): "
            "look for a cause; it was kept",
            lot.furthest->place + 1, fixed_text(lot.furthest->statistic, 2), chance_text(lot.furthest->p)));
    if (lot.variation)
        lot.cautions.push_back(fmt::format(
            "{} values of {} are no {} specimens: they tell the mean as well as {} single ones would",
            static_cast<int>(lot.variation->values),
            specimens_text(static_cast<std::size_t>(lot.variation->specimens)),
            static_cast<int>(lot.variation->values), fixed_text(lot.variation->effective_values, 1)));
    if (lot.trend && lot.trend->p < rarely)
        lot.cautions.push_back(fmt::format(
            "Times {} by {} from one replicate to the next (a chance of {}): drying, or a memory of the "
            "charge before",
            lot.trend->slope > 0 ? "rise" : "fall", share_text(std::abs(std::expm1(lot.trend->slope))),
            chance_text(lot.trend->p)));
    for (const LotDifference& one : lot.differences)
        if (one.p < rarely)
            lot.cautions.push_back(fmt::format(
                "{} {} takes {} times as long as {} ({} to {}): they are not one population, and a bound "
                "over "
                "both mixes them",
                one.kind, one.first, significant_text(one.ratio, 3), one.second,
                significant_text(*one.ratio_interval.low, 3), significant_text(*one.ratio_interval.high, 3)));
    for (const std::string& one : lot.left_out) lot.cautions.push_back(fmt::format("Left out: {}", one));
}

}  // namespace

std::string chance_text(double p) {
    return p < 0.001 ? "under 0.1 %" : p > 0.999 ? "over 99.9 %" : share_text(p);
}

std::string seconds_text(double time_s) {
    return significant_text(time_s, 3) + " s";
}

std::string share_text(double share) {
    const double percent = 100 * share;
    if (percent > 0 && percent < 0.1) return "under 0.1 %";
    if (percent < 10 || percent > 90) {
        const std::string text = fixed_text(percent, 1);
        return (text.ends_with(".0") ? text.substr(0, text.size() - 2) : text) + " %";
    }
    return fixed_text(percent, 0) + " %";
}

std::string range_text(const stats::ConfidenceInterval& interval) {
    if (interval.low && interval.high)
        return fmt::format("{} to {}", significant_text(*interval.low, 3), seconds_text(*interval.high));
    if (interval.low) return "at least " + seconds_text(*interval.low);
    if (interval.high) return "at most " + seconds_text(*interval.high);
    return "not bounded";
}

std::string in_words(const stats::Claim& claim) {
    return fmt::format("{} of the lot are within the limit, with {} confidence", share_text(claim.share),
                       share_text(claim.confidence));
}

void say_in_words(Lot& lot) {
    say_claim(lot);
    say_what_was_tested(lot);
    say_shares(lot);
    say_risk(lot);
    say_what_more_would_do(lot);
    say_likeness(lot);
    warn_of_few(lot);
    warn_of_law(lot);
    warn_of_specimens(lot);
    if (lot.request.history && lot.conforming)
        lot.cautions.push_back(
            "Risks by a history hold for lots such as it had: a new supplier, machine or recipe has none");
    lot.in_plain_words = plain_words_of(lot);
    lot.cautions.push_back(
        "Spread between specimens and scatter of the measurement are in the bounds together; an error that "
        "all of them share (humidity, the bench) is not");
}

}  // namespace ebbtide::work
