// ebbtide ledger trend: a table and a strip of dots for each series.

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>

#include "basis/number_text.hpp"
#include "cli/commands.hpp"
#include "cli/print.hpp"
#include "ledger/migrations.hpp"
#include "ledger/trend.hpp"
#include "plan/level.hpp"
#include "record/json.hpp"

namespace ebbtide::cli {
namespace {

using ledger::TrendPeriod;
using ledger::TrendSeries;

Result<ledger::TrendQuery> trend_query_of(const LedgerOptions& options) {
    ledger::TrendQuery query;
    query.material = options.query.material;
    query.by = options.by == "month" ? ledger::TrendQuery::By::month : ledger::TrendQuery::By::year;
    if (options.level.empty()) return query;
    const auto level = plan::parse_level(options.level);
    if (!level) {
        Error error = level.error();
        error.where = "--level";
        return error;
    }
    query.level = level->value;
    query.level_kind = level->kind == plan::Level::Kind::fraction ? "fraction" : "absolute_V";
    return query;
}

std::string series_level(const TrendSeries& series) {
    plan::Level level;
    level.kind =
        series.level_kind == "fraction" ? plan::Level::Kind::fraction : plan::Level::Kind::absolute_V;
    level.value = series.level;
    if (std::abs(series.level - std::exp(-1.0)) < 1e-12) level.text = "1/e";
    return level.label();
}

std::string heading_of(const TrendSeries& series) {
    std::string text = fmt::format("{}: t({})", series.material, series_level(series));
    if (!series.conditions.empty()) text += ", " + series.conditions;
    if (!series.method.empty()) text += ", by " + series.method;
    if (series.transcribed) text += "; copied by hand, without trace";
    return wrapped(text, screen, 2) + "\n";
}

/// Where the times of a period lie among those of its series: from the shortest to the longest, the geometric
/// mean a dot; equal ratios are equal distances.
class Strip {
  public:
    explicit Strip(const std::vector<TrendPeriod>& periods) {
        for (const TrendPeriod& period : periods) {
            if (!period.mean_s) continue;
            low_ = std::min(low_, std::log(*period.shortest_s));
            high_ = std::max(high_, std::log(*period.longest_s));
        }
    }
    [[nodiscard]] std::string text(const TrendPeriod& period) const {
        if (!period.mean_s) return "";
        const int from = cell(*period.shortest_s), to = cell(*period.longest_s), mean = cell(*period.mean_s);
        std::string out;
        for (int i = 0; i < cells; ++i) out += i == mean ? "●" : i >= from && i <= to ? "─" : "·";
        return out;
    }

  private:
    static constexpr int cells = 11;
    [[nodiscard]] int cell(double time_s) const {
        if (!(high_ > low_)) return cells / 2;
        return static_cast<int>(std::lround((std::log(time_s) - low_) / (high_ - low_) * (cells - 1)));
    }
    double low_ = HUGE_VAL, high_ = -HUGE_VAL;
};

std::string seconds_text(const std::optional<double>& value) {
    return value ? significant_text(*value, 3) : "–";
}

/// Runs that gave only a bound. They are no times, and a mean without them flatters.
std::string bounds_text(const TrendPeriod& period) {
    if (period.longer + period.shorter == 0) return "";
    std::string text;
    if (period.longer > 0) text = fmt::format("{} not reached", period.longer);
    if (period.shorter > 0)
        text += fmt::format("{}{} below resolution", text.empty() ? "" : ", ", period.shorter);
    return fmt::format("          and {}: not in the mean\n", text);
}

std::string trend_text(const TrendSeries& series) {
    std::string text = heading_of(series);
    text += fmt::format("  {:<7} {:>6} {:>9} {:>6} {:>9} {:>9} {:>6} {:>6}\n", "", "times", "mean, s",
                        "spread", "from, s", "to, s", "orders", "failed");
    const Strip strip(series.periods);
    for (const TrendPeriod& period : series.periods) {
        const auto counted = [&](std::int64_t count) {
            return series.transcribed ? std::string() : std::to_string(count);
        };
        text += fmt::format("  {:<7} {:>6} {:>9} {:>6} {:>9} {:>9} {:>6} {:>6}  {}\n", period.period,
                            period.times, seconds_text(period.mean_s), seconds_text(period.spread_factor),
                            seconds_text(period.shortest_s), seconds_text(period.longest_s),
                            counted(period.orders), counted(period.failed), strip.text(period));
        text += bounds_text(period);
    }
    return text;
}

}  // namespace

int ledger_trend(const LedgerOptions& options) {
    const auto query = trend_query_of(options);
    if (!query) return complain(query.error());
    auto database = ledger::open_ledger(options.ledger, ledger::Database::Access::read);
    if (!database) return complain(database.error());
    const auto trend = ledger::trend(*database, *query);
    if (!trend) return complain(trend.error());
    if (options.json) {
        fmt::print("{}", record::canonical_text(ledger::json_of(*trend)));
        return ok;
    }
    for (const TrendSeries& series : *trend) fmt::print("{}\n", trend_text(series));
    if (trend->empty()) fmt::print("no tests of such a material\n");
    if (!trend->empty())
        fmt::print("{}\n",
                   wrapped("mean: geometric; spread: factor, exp(standard deviation of ln t)", screen, 0));
    return ok;
}

}  // namespace ebbtide::cli
