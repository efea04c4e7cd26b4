// What a comparison's figures mean, for people without statistics.

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "basis/number_text.hpp"
#include "work/compare.hpp"
#include "work/lot_words.hpp"

namespace ebbtide::work {
namespace {

constexpr double hardly_chance = 0.05;
constexpr std::size_t most_pairs_in_words = 12;

/// Which one takes longer, and how many times as long.
struct SlowerOfPair {
    std::string slower, faster;
    double ratio, low, high;
};
SlowerOfPair slower_of(const ComparedPair& pair) {
    if (pair.ratio < 1)
        return {pair.first, pair.second, 1 / pair.ratio, 1 / *pair.ratio_interval.high,
                1 / *pair.ratio_interval.low};
    return {pair.second, pair.first, pair.ratio, *pair.ratio_interval.low, *pair.ratio_interval.high};
}

std::string sentence_of(const Comparison& comparison, const ComparedPair& pair) {
    const SlowerOfPair of = slower_of(pair);
    const std::string &slower = of.slower, &faster = of.faster;
    const std::string range = fmt::format("{} ({} to {})", significant_text(of.ratio, 3),
                                          significant_text(of.low, 3), significant_text(of.high, 3));
    const bool differ = pair.p < hardly_chance, alike = pair.alike_p < hardly_chance;
    const std::string factor = significant_text(comparison.request.alike_within, 3);
    const std::string chance = chance_text(pair.p);
    if (differ && alike)
        return fmt::format(
            "{} takes {} times as long as {}; chance alone would hardly do that ({}), but they "
            "are as good as alike: within a factor of {}",
            slower, range, faster, chance, factor);
    if (differ)
        return fmt::format("{} takes {} times as long as {}; chance alone would hardly do that ({})", slower,
                           range, faster, chance);
    if (alike)
        return fmt::format("{} and {} are as good as alike: {} takes {} times as long, within a factor of {}",
                           pair.first, pair.second, slower, range, factor);
    return fmt::format(
        "{} takes {} times as long as {}; chance alone could do that ({}), and these specimens "
        "show neither a difference nor likeness",
        slower, range, faster, chance);
}

void say_groups(Comparison& comparison) {
    for (const ComparedGroup& group : comparison.groups)
        if (!group.missing.empty())
            comparison.reasons.push_back(fmt::format("{} is not compared: {}", group.name, group.missing));
}

void say_pairs(Comparison& comparison) {
    if (comparison.overall)
        comparison.reasons.push_back(fmt::format(
            "All {} groups together: differences like these would come by chance with {}{}",
            static_cast<int>(comparison.overall->numerator_df) + 1, chance_text(comparison.overall->p),
            comparison.overall->p < hardly_chance ? ", so not all of them are alike" : ", so none is shown"));
    // What differs most surely first; of many groups the rest is in the table.
    std::vector<const ComparedPair*> order;
    for (const ComparedPair& pair : comparison.pairs) order.push_back(&pair);
    std::ranges::stable_sort(order, {}, [](const ComparedPair* pair) { return pair->p_alone; });
    for (std::size_t i = 0; i < std::min(order.size(), most_pairs_in_words); ++i)
        comparison.reasons.push_back(sentence_of(comparison, *order[i]));
    if (order.size() > most_pairs_in_words)
        comparison.reasons.push_back(
            fmt::format("{} more pairs differ less surely than these", order.size() - most_pairs_in_words));
}

void say_trend(Comparison& comparison) {
    if (!comparison.trend) return;
    const TimeTrend& trend = *comparison.trend;
    const auto percent = [](double ln) { return fmt::format("{:+.0f} %", 100 * std::expm1(ln)); };
    comparison.reasons.push_back(fmt::format(
        "From {} to {} times changed by {} a year ({} to {}); chance alone {} ({})", trend.first_day,
        trend.last_day, percent(trend.ln_per_year), percent(*trend.interval.low),
        percent(*trend.interval.high), trend.p < hardly_chance ? "would hardly do that" : "could do that",
        chance_text(trend.p)));
}

void warn(Comparison& comparison) {
    const auto any = [&](auto holds) { return std::ranges::any_of(comparison.groups, holds); };
    if (any([](const ComparedGroup& one) { return one.measured < one.specimens && one.mean_s; }))
        comparison.cautions.push_back(
            "Where times are bounds, means come from the lognormal law that fits them best; with fewer than "
            "20 specimens a group their intervals are approximate");
    if (any([](const ComparedGroup& one) { return one.specimens < 5 && one.mean_s; }))
        comparison.cautions.push_back(
            "With fewer than five specimens a group only large differences are found");
    if (comparison.pairs.size() > 1)
        comparison.cautions.push_back(fmt::format(
            "{} pairs were looked at: chances are corrected for all of them (Holm), intervals are those of "
            "each pair alone",
            comparison.pairs.size()));
    if (std::ranges::any_of(comparison.pairs, [](const ComparedPair& one) { return one.paired; }))
        comparison.cautions.push_back(
            "Groups that hold the same specimens are compared specimen by specimen");
    comparison.cautions.push_back(
        "A difference between groups is one between the specimens and everything that came with them: day, "
        "humidity, bench, hand. Only what was alike for all but one of these can be blamed on it");
    comparison.cautions.push_back("That no difference is shown does not show that there is none");
    for (const std::string& one : comparison.left_out)
        comparison.cautions.push_back(fmt::format("Left out: {}", one));
}

}  // namespace

void say_in_words(Comparison& comparison) {
    say_pairs(comparison);
    say_groups(comparison);
    say_trend(comparison);
    warn(comparison);
}

}  // namespace ebbtide::work
