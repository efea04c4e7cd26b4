#include "ledger/trend.hpp"

#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>

#include "ledger/migrations.hpp"
#include "ledger/trend_rows.hpp"
#include "record/json.hpp"

namespace ebbtide::ledger {
namespace {

using nlohmann::json;

using EachRowOfTrend = std::function<void(const TrendKey&, const TrendSums&)>;

/// Hands out the sums of transcribed times, which are few and without orders: summed as they are asked for.
Result<Done> each_transcribed(Database& database, const std::string& material, const EachRowOfTrend& each) {
    const auto schema = schema_of(database);
    if (!schema) return schema.error();
    if (*schema < 2) return Done{};
    TrendRows rows;
    auto read = database.each(
        "SELECT material, method, level_kind, level, substr(tested, 1, 7), decay_s FROM found_transcript "
        "WHERE (?1 = '' OR instr(lower(material), lower(?1)) > 0) AND decay_s > 0 ORDER BY number",
        {material}, [&](const Row& row) -> Result<Done> {
            rows[{row.text(0), row.text(1), "", row.text(2), *row.real(3), row.text(4)}].add_time(
                *row.real(5));
            return Done{};
        });
    for (const auto& [key, sums] : rows) each(key, sums);
    return read;
}

TrendPeriod period_of(const std::string& name, const TrendSums& sums) {
    TrendPeriod period{name,           sums.times,  {},           {},          sums.shortest_s,
                       sums.longest_s, sums.longer, sums.shorter, sums.orders, sums.failed};
    const auto n = static_cast<double>(sums.times);
    if (sums.times > 0) period.mean_s = std::exp(sums.sum_ln / n);
    if (sums.times > 1) {
        // What rounding leaves of times that are all alike may fall below zero.
        const double squares = std::max(0.0, sums.sum_ln2 - sums.sum_ln * sums.sum_ln / n);
        period.spread_factor = std::exp(std::sqrt(squares / (n - 1)));
    }
    return period;
}

bool is_of(const TrendQuery& query, const TrendKey& key) {
    if (!query.level) return true;
    return key.level_kind == query.level_kind &&
           std::abs(key.level - *query.level) <= 1e-9 * std::abs(*query.level);
}

/// Rows that come by key, month by month, gathered to series and periods.
class Gathering {
  public:
    Gathering(std::size_t letters, bool transcribed) : letters_(letters), transcribed_(transcribed) {}

    void add(const TrendKey& key, const TrendSums& sums) {
        const std::string period = key.month.substr(0, letters_);
        const bool same_series = !series_.empty() && key.series() == key_.series();
        if (!same_series || period != period_) close_period();
        if (!same_series)
            series_.push_back(
                {key.material, key.method, key.conditions, key.level_kind, key.level, transcribed_, {}});
        key_ = key;
        period_ = period;
        sums_.add(sums);
    }
    [[nodiscard]] std::vector<TrendSeries> closed() {
        close_period();
        return std::move(series_);
    }

  private:
    void close_period() {
        if (!series_.empty()) series_.back().periods.push_back(period_of(period_, sums_));
        sums_ = {};
    }
    std::size_t letters_;
    bool transcribed_;
    std::vector<TrendSeries> series_;
    TrendKey key_;
    std::string period_;
    TrendSums sums_;
};

}  // namespace

Result<std::vector<TrendSeries>> trend(Database& database, const TrendQuery& query) {
    const auto snapshot = Snapshot::begin(database);
    if (!snapshot) return snapshot.error();
    std::vector<TrendSeries> found;
    for (const auto& [transcribed, each] :
         {std::pair{false, &each_trend}, std::pair{true, &each_transcribed}}) {
        Gathering gathering(query.by == TrendQuery::By::year ? 4 : 7, transcribed);
        const auto read = each(database, query.material, [&](const TrendKey& key, const TrendSums& sums) {
            if (is_of(query, key)) gathering.add(key, sums);
        });
        if (!read) return read.error();
        for (TrendSeries& series : gathering.closed()) found.push_back(std::move(series));
    }
    std::ranges::stable_sort(found, [](const TrendSeries& one, const TrendSeries& other) {
        const auto tied = [](const TrendSeries& of) {
            return std::tie(of.material, of.method, of.level_kind, of.level, of.transcribed);
        };
        return tied(one) < tied(other);
    });
    return found;
}

json json_of(const std::vector<TrendSeries>& trend) {
    using record::or_null;
    json series = json::array();
    for (const TrendSeries& one : trend) {
        json periods = json::array();
        for (const TrendPeriod& period : one.periods)
            periods.push_back({{"period", period.period},
                               {"times", period.times},
                               {"mean_s", or_null(period.mean_s)},
                               {"spread_factor", or_null(period.spread_factor)},
                               {"shortest_s", or_null(period.shortest_s)},
                               {"longest_s", or_null(period.longest_s)},
                               {"longer", period.longer},
                               {"shorter", period.shorter},
                               {"orders", one.transcribed ? json() : json(period.orders)},
                               {"failed", one.transcribed ? json() : json(period.failed)}});
        series.push_back({{"material", one.material},
                          {"method", one.method},
                          {"conditions", one.transcribed ? json() : json(one.conditions)},
                          {"level", one.level},
                          {"level_kind", one.level_kind},
                          {"transcribed", one.transcribed},
                          {"periods", std::move(periods)}});
    }
    return {{"schema", "ebbtide.ledger-trend/1"}, {"series", std::move(series)}};
}

}  // namespace ebbtide::ledger
