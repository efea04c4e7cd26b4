// The one paragraph on a lot that everybody reads.

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "basis/number_text.hpp"
#include "work/lot_words.hpp"

namespace ebbtide::work {
namespace {

using stats::Known;

std::string how_many(std::size_t count, const char* one, const char* many) {
    return count == 1 ? fmt::format("1 {}", one) : fmt::format("{} {}", count, many);
}

/// "9 of every 10 pieces": a share as people count.
std::string pieces_text(double share) {
    for (const int of : {10, 20, 100, 1000}) {
        const double count = share * of;
        const double whole = fixed_text(count, 0).size() < 5 ? std::stod(fixed_text(count, 0)) : 0;
        if (std::abs(count - whole) < 1e-9 && whole > 0 && whole < of)
            return fmt::format("{} of every {} pieces", fixed_text(whole, 0), of);
    }
    return fmt::format("{} of the pieces", share_text(share));
}

std::string what_was_seen(const Lot& lot) {
    std::string text =
        fmt::format("{} tested", lot.specimens == 1 ? "One specimen was"
                                                    : fmt::format("{} specimens were", lot.specimens));
    if (lot.lognormal.fit.fitted())
        text += fmt::format("; a typical one takes {}", seconds_text(std::exp(lot.lognormal.fit.location)));
    double longest_s = 0;
    for (const stats::Observation& one : lot.sample)
        if (one.known == Known::exactly) longest_s = std::max(longest_s, one.value);
    if (longest_s > 0 && lot.measured > 1)
        text += fmt::format(", and the slowest that was measured took {}", seconds_text(longest_s));
    text += ".";
    if (lot.not_reached > 0)
        text += fmt::format(" {} not discharged when {} ended, and {} as slower than that.",
                            how_many(lot.not_reached, "was", "were"),
                            lot.not_reached == 1 ? "its record" : "their records",
                            lot.not_reached == 1 ? "counts" : "count");
    const std::string limit = seconds_text(*lot.request.limit_s);
    if (lot.over_limit)
        text += *lot.over_limit == 0
                    ? fmt::format(" The limit is {}, and none was over it.", limit)
                    : fmt::format(" The limit is {}, and {} over it.", limit,
                                  how_many(static_cast<std::size_t>(*lot.over_limit), "was", "were"));
    else
        text += fmt::format(" The limit is {}.", limit);
    return text;
}

std::string bound_clause(const Lot& lot) {
    const LotBound& law = lot.tolerance[0];
    return law.upper_s ? seconds_text(*law.upper_s) : "";
}

std::string why_shown(const Lot& lot) {
    const double limit_s = *lot.request.limit_s;
    const LotBound &law = lot.tolerance[0], &order = lot.tolerance[1];
    const LotBound& used = law.upper_s && *law.upper_s <= limit_s ? law : order;
    return fmt::format(
        "The lot passes: judging by how much the specimens differ from one another, {} of the lot take no "
        "longer "
        "than {}, which is within the limit. Of a hundred lots that are not so good, at most {} would pass a "
        "test "
        "like this.",
        pieces_text(lot.request.claim.share), used.upper_s ? seconds_text(*used.upper_s) : "the limit",
        fixed_text(100 * (1 - lot.request.claim.confidence), 0));
}

std::string why_open(const Lot& lot) {
    std::string text = "The lot neither passes nor fails: it stays open. ";
    if (lot.failed_specimen)
        return text +
               "A specimen failed without a time that could be used, and until that is explained nothing is "
               "shown of the lot.";
    const std::string bound = bound_clause(lot);
    if (bound.empty())
        text += fmt::format("These specimens set no end to how long {} of the lot may take.",
                            pieces_text(lot.request.claim.share));
    else if (*lot.tolerance[0].upper_s <= *lot.request.limit_s)
        text += "The times do not follow the law by which so few specimens could speak for a lot.";
    else
        text += fmt::format(
            "So few specimens cannot tell the whole lot apart from a slower one: to be sure enough of {}, "
            "times up "
            "to {} have to be reckoned with, and that is over the limit.",
            pieces_text(lot.request.claim.share), bound);
    if (lot.needed && *lot.needed > static_cast<int>(lot.specimens))
        text += fmt::format(
            " With {} specimens in all, if they look like these, the lot would probably pass.", *lot.needed);
    else if (lot.lognormal.beyond && lot.lognormal.beyond->estimate >= 1 - lot.request.claim.share)
        text += fmt::format(
            " If the lot is as these specimens look, {} of it are over the limit: more specimens would not "
            "make it "
            "pass.",
            share_text(lot.lognormal.beyond->estimate));
    return text;
}

std::string why_refuted(const Lot& lot) {
    std::string text = fmt::format(
        "The lot fails: fewer than {} of it can be within the limit, as surely as was "
        "asked for ({}).",
        pieces_text(lot.request.claim.share), share_text(lot.request.claim.confidence));
    if (lot.lognormal.beyond)
        text += fmt::format(" If the lot is as these specimens look, {} of it are over the limit.",
                            share_text(lot.lognormal.beyond->estimate));
    return text;
}

}  // namespace

std::string plain_words_of(const Lot& lot) {
    if (!lot.request.limit_s) return "";
    const std::string seen = what_was_seen(lot) + " ";
    if (!lot.showing)
        return seen + "This says what these specimens do; nothing is said of the lot, because " +
               (lot.request.no_claim.empty() ? "one specimen does not show how specimens differ"
                                             : lot.request.no_claim) +
               ".";
    switch (*lot.showing) {
        case stats::Showing::shown:
            return seen + why_shown(lot);
        case stats::Showing::open:
            return seen + why_open(lot);
        case stats::Showing::refuted:
            return seen + why_refuted(lot);
    }
    return seen;
}

}  // namespace ebbtide::work
