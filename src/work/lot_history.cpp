#include "work/lot_history.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>

#include "basis/number_text.hpp"
#include "ledger/trend.hpp"
#include "stats/moments.hpp"
#include "work/lot_words.hpp"
#include "work/specimen_means.hpp"

namespace ebbtide::work {
namespace {

std::optional<stats::LotSummary> summary_of(const std::vector<LotTime>& times) {
    std::vector<stats::Observation> sample;
    for (const auto& specimen : by_specimen(times)) {
        std::vector<stats::Observation> observations;
        for (const LotTime* one : specimen) observations.push_back(one->time);
        if (const auto mean = mean_of(observations)) sample.push_back(*mean);
    }
    const auto n = static_cast<double>(sample.size());
    const bool exact = std::ranges::all_of(
        sample, [](const stats::Observation& one) { return one.known == stats::Known::exactly; });
    if (sample.empty()) return {};
    if (exact) {
        const stats::Moments moments = stats::moments_of(log_times(sample));
        return stats::LotSummary{n, moments.mean, moments.variance};
    }
    const stats::CensoredFit fit = stats::fit_censored(sample, stats::Family::lognormal);
    if (!fit.fitted() || n < 2) return {};
    return stats::LotSummary{n, fit.location, fit.scale * fit.scale * n / (n - 1)};
}

std::string spread_text(const stats::LotHistory& history) {
    return fmt::format("typical time {}, lots scatter by a factor of {}, specimens of one by {}",
                       seconds_text(std::exp(history.mean)), significant_text(std::exp(history.between), 3),
                       significant_text(std::exp(history.within), 3));
}

Result<LotPrior> prior_of(const std::vector<stats::LotSummary>& lots, const std::string& place,
                          const std::string& source) {
    const auto history = stats::history_of(lots);
    if (!history)
        return Error{Fault::bad_input,
                     lots.size() < 3 ? fmt::format("{} earlier lots are no history", lots.size())
                                     : std::string("no earlier lot shows how its specimens differ"),
                     place, "Give three lots or more, with several specimens each"};
    return LotPrior{*history, source + ": " + spread_text(*history), {}};
}

std::string series_text(const ledger::TrendSeries& series) {
    std::string text = series.material;
    for (const std::string& part : {series.conditions, series.method})
        if (!part.empty()) text += ", " + part;
    return text;
}

}  // namespace

Result<LotPrior> history_of_times(const std::vector<LotTime>& times, const std::string& name) {
    std::map<std::string, std::vector<LotTime>> by_lot;
    for (const LotTime& one : times) {
        const auto lot = one.labels.find("lot");
        if (lot == one.labels.end())
            return Error{Fault::bad_input, "a time does not say of which lot it is", name,
                         "Give the table a column 'lot'"};
        by_lot[lot->second].push_back(one);
    }
    std::vector<stats::LotSummary> lots;
    for (const auto& lot : by_lot)
        if (const auto summary = summary_of(lot.second)) lots.push_back(*summary);
    std::string source = fmt::format("{}, {} lots", name, lots.size());
    if (lots.size() < by_lot.size())
        source += fmt::format(", {} left out that have bounds alone", by_lot.size() - lots.size());
    return prior_of(lots, name, source);
}

LedgerHistory history_before(std::span<const record::OrderRecord> orders, const plan::Level& level) {
    LedgerHistory out{"", level, {}};
    for (const record::OrderRecord& order : orders) {
        if (out.material.empty() && !order.order.items.empty())
            out.material = order.order.items.front().description;
        out.before = std::min(out.before.value_or(order.order.tested_from), order.order.tested_from);
    }
    return out;
}

Result<LotPrior> history_in_ledger(ledger::Database& ledger, const LedgerHistory& asked) {
    ledger::TrendQuery query;
    query.material = asked.material;
    query.level = asked.level.value;
    query.level_kind = asked.level.kind == plan::Level::Kind::fraction ? "fraction" : "absolute_V";
    query.by = ledger::TrendQuery::By::month;
    auto found = ledger::trend(ledger, query);
    if (!found) return found.error();
    std::erase_if(*found, [](const ledger::TrendSeries& one) { return one.transcribed; });
    if (found->size() != 1) {
        std::string names;
        for (const ledger::TrendSeries& one : *found) names += (names.empty() ? "" : "; ") + series_text(one);
        return Error{Fault::bad_input,
                     found->empty() ? fmt::format("no earlier tests of '{}' to t({})", asked.material,
                                                  asked.level.label())
                                    : fmt::format("'{}' may be several: {}", asked.material, names),
                     "--history-ledger", "Name the material as 'ebbtide ledger trend' does"};
    }
    const ledger::TrendSeries& series = found->front();
    const std::string end = asked.before ? iso_text(*asked.before).substr(0, 7) : "9999";
    std::vector<stats::LotSummary> months;
    std::int64_t bounds = 0;
    std::string first, last;
    for (const ledger::TrendPeriod& period : series.periods) {
        if (period.period >= end) continue;
        bounds += period.longer + period.shorter;
        if (!period.mean_s) continue;
        const double spread = period.spread_factor ? std::log(*period.spread_factor) : 0;
        months.push_back({static_cast<double>(period.times), std::log(*period.mean_s), spread * spread});
        if (first.empty()) first = period.period;
        last = period.period;
    }
    std::string source = fmt::format("{} to t({}), {} months of the ledger from {} to {}",
                                     series_text(series), asked.level.label(), months.size(), first, last);
    if (bounds > 0) source += fmt::format(", without {} runs that are bounds", bounds);
    auto prior = prior_of(months, "--history-ledger", source);
    if (prior) prior->level = asked.level;
    return prior;
}

Result<LotPrior> stated_history(double typical_s, double between_factor, double within_factor) {
    const bool sound = std::isfinite(typical_s) && typical_s > 0 && std::isfinite(between_factor) &&
                       between_factor > 1 && std::isfinite(within_factor) && within_factor > 1;
    if (!sound)
        return Error{Fault::bad_input,
                     fmt::format("{} s, {} and {} are no history", typical_s, between_factor, within_factor),
                     "--stated-history", "Give seconds above zero, and two factors above 1"};
    const stats::LotHistory history{
        std::log(typical_s), std::log(between_factor), std::log(within_factor), {}};
    return LotPrior{history, "as stated: " + spread_text(history), {}};
}

}  // namespace ebbtide::work
