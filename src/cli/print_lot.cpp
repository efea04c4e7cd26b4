#include "cli/print_lot.hpp"

#include <fmt/format.h>

#include "basis/number_text.hpp"
#include "cli/print.hpp"
#include "work/lot_words.hpp"

namespace ebbtide::cli {
namespace {

std::string shares_text(const work::Lot& lot) {
    const std::string heading = "share of the lot that takes longer\n";
    std::string out = heading;
    if (lot.product_limit) {
        for (const stats::SurvivalStep& step : *lot.product_limit) {
            const stats::ConfidenceInterval bounds = stats::log_log_bounds(step, 1.959963984540054);
            out += fmt::format("  than {:>10}  {:>7}", work::seconds_text(step.time),
                               work::share_text(step.survival));
            if (bounds.low)
                out +=
                    fmt::format("   {} to {}", work::share_text(*bounds.low), work::share_text(*bounds.high));
            out += "\n";
        }
    } else {
        for (const stats::Portion& portion : lot.turnbull->portions)
            if (portion.to && portion.share > 1e-6) {
                const auto bounds = stats::counted_bounds(lot.sample, *portion.to, 0.95);
                out += fmt::format("  than {:>10}  {:>7}   {} to {}\n", work::seconds_text(*portion.to),
                                   work::share_text(portion.survival), work::share_text(*bounds.low),
                                   work::share_text(*bounds.high));
            }
    }
    return out == heading ? "" : out + "\n";
}

std::string quantiles_text(const work::Lot& lot) {
    if (lot.quantiles.empty()) return "";
    std::string out = "by the lognormal law                    95 % interval\n";
    for (const work::LotQuantile& one : lot.quantiles)
        out += fmt::format("  {:>5} take at most {:>10}    {}\n", work::share_text(one.share),
                           work::seconds_text(one.decay_s), work::range_text(one.interval));
    return out + "\n";
}

std::string tolerance_text(const work::Lot& lot) {
    std::string out;
    for (const work::LotBound& bound : lot.tolerance) {
        if (bound.two_sided) continue;
        const std::string value =
            bound.upper_s ? "at most " + work::seconds_text(*bound.upper_s) : bound.missing;
        out += "  " +
               wrapped(fmt::format("{:>5} with {} confidence, {}: {}", work::share_text(bound.claim.share),
                                   work::share_text(bound.claim.confidence),
                                   bound.way == work::LotBound::Way::order ? "by order alone" : "by the law",
                                   value),
                       screen - 2, 6) +
               "\n";
    }
    return out.empty() ? "" : "bounds for shares of the lot\n" + out + "\n";
}

}  // namespace

std::string bulleted(const std::vector<std::string>& lines, const char* heading) {
    if (lines.empty()) return "";
    std::string out = fmt::format("{}\n", heading);
    for (const std::string& line : lines)
        out += "  " + wrapped(line + (line.ends_with(':') ? "" : "."), screen - 2, 4) + "\n";
    return out + "\n";
}

std::string text_of(const work::Lot& lot) {
    const std::string plain =
        lot.in_plain_words.empty() ? "" : wrapped(lot.in_plain_words, screen, 0) + "\n\n";
    return plain + bulleted(lot.reasons, "what these specimens say") + shares_text(lot) +
           quantiles_text(lot) + tolerance_text(lot) + bulleted(lot.cautions, "what they do not prove");
}

std::string text_of(const work::Sampling& sampling) {
    std::string out = bulleted(work::in_words(sampling), "how many specimens") +
                      "share over the limit   accepted by variables   by attributes\n";
    for (std::size_t i = 0; i < sampling.oc.size(); i += 3)
        out += fmt::format("{:>20}   {:>21}   {:>13}\n", work::share_text(sampling.oc[i].beyond),
                           work::share_text(sampling.oc[i].by_variables),
                           work::share_text(sampling.oc[i].by_attributes));
    return out;
}

}  // namespace ebbtide::cli
