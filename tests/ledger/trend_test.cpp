// The trend of a material is that of the decay times as they stand, whatever was corrected or withdrawn
// before.

#include "ledger/trend.hpp"

#include <cmath>
#include <map>
#include <random>

#include "ledger/invented_ledger.hpp"

namespace {

using namespace ebbtide;
using namespace ebbtide::testing_support;
using ledger::TrendQuery;

using Trend = InventedLedger;

/// A run of a level, a bound in the place of a time where there is none.
ledger::Draft run_with(const std::string& order, int number, const nlohmann::json& changes) {
    ledger::Draft draft = run_of(order, std::to_string(number));
    nlohmann::json body = nlohmann::json::parse(draft.body);
    body.merge_patch(changes);
    // A patch removes what is null: a level is given as a whole.
    if (changes.contains("level")) body["figures"]["levels"] = nlohmann::json::array({changes["level"]});
    body.erase("level");
    draft.body = ledger::canonical_line(body).value();
    return draft;
}

nlohmann::json level(const std::string& status, nlohmann::json decay_s, nlohmann::json at_least_s,
                     nlohmann::json at_most_s, double of = 0.1) {
    return {{"level", of},          {"level_kind", "fraction"}, {"status", status},      {"decay_s", decay_s},
            {"u_decay_s", nullptr}, {"at_least_s", at_least_s}, {"at_most_s", at_most_s}};
}

TEST_F(Trend, IsTheGeometricMeanAndSpreadOfAYear) {
    // Geometric mean and standard deviation of 0.1, 0.2, 0.4 by hand: the logarithms lie ln 2 apart, so the
    // mean is 0.2 and the factor exp(ln 2) = 2.
    int number = 0;
    for (const double decay_s : {0.1, 0.2, 0.4})
        got(put(run_with("TP-1", ++number, {{"level", level("measured", decay_s, nullptr, nullptr)}})));
    InventedOrder order;
    order.statement = "fail";
    got(put(statement_of(order)));
    const auto trend = got(ledger::trend(database_, {"HALYARD", 0.1, "fraction", TrendQuery::By::year}));
    ASSERT_EQ(trend.size(), 1u);
    EXPECT_EQ(trend[0].material, "Halyard cloth");
    EXPECT_EQ(trend[0].conditions, "dry");
    EXPECT_EQ(trend[0].method, "house-method");
    EXPECT_FALSE(trend[0].transcribed);
    ASSERT_EQ(trend[0].periods.size(), 1u);
    const ledger::TrendPeriod& year = trend[0].periods[0];
    EXPECT_EQ(year.period, "2026");
    EXPECT_EQ(year.times, 3);
    EXPECT_NEAR(*year.mean_s, 0.2, 1e-15);       // rounding of three logarithms
    EXPECT_NEAR(*year.spread_factor, 2, 1e-13);  // and of their squares
    EXPECT_EQ(year.shortest_s, 0.1);
    EXPECT_EQ(year.longest_s, 0.4);
    EXPECT_EQ(year.orders, 1);
    EXPECT_EQ(year.failed, 1);
    for (const TrendQuery& other : {TrendQuery{"film", {}, {}, {}}, TrendQuery{"", 0.5, "fraction", {}},
                                    TrendQuery{"", 0.1, "absolute_V", {}}})
        EXPECT_TRUE(got(ledger::trend(database_, other)).empty());
}

TEST_F(Trend, CountsBoundsBesideTheTimesAndNeverAsTimes) {
    got(put(run_with("TP-1", 1, {{"level", level("measured", 0.3, nullptr, nullptr)}})));
    got(put(run_with("TP-1", 2, {{"level", level("not_reached", nullptr, 60, nullptr)}})));
    got(put(run_with("TP-1", 3, {{"level", level("below_resolution", nullptr, nullptr, 0.01)}})));
    got(put(run_with("TP-1", 4, {{"level", level("extrapolated", nullptr, nullptr, nullptr)}})));
    got(put(run_with("TP-1", 5, {{"level", level("too_noisy", nullptr, nullptr, nullptr)}})));
    got(put(run_with("TP-1", 6, {{"counts", false}})));
    got(put(run_with("TP-1", 7, {{"figures", nullptr}})));
    got(put(run_with("TP-1", 8, {{"level", level("measured", 0, nullptr, nullptr)}})));
    got(put(statement_of({})));
    const auto periods = got(ledger::trend(database_, {})).at(0).periods;
    ASSERT_EQ(periods.size(), 1u);
    EXPECT_EQ(periods[0].times, 1);
    EXPECT_EQ(periods[0].longer, 2);
    EXPECT_EQ(periods[0].shorter, 1);
    EXPECT_FALSE(periods[0].spread_factor) << "one time has no spread";
    EXPECT_EQ(damages(), "");
}

TEST_F(Trend, KeepsApartWhatCannotBeCompared) {
    got(put(run_with("TP-1", 1, nlohmann::json::object())));
    got(put(run_with("TP-1", 2, {{"conditions", "humid"}})));
    got(put(run_with("TP-1", 3, {{"level", level("measured", 0.4, nullptr, nullptr, 0.5)}})));
    got(put(statement_of({})));
    InventedOrder second;
    second.id = "TP-2", second.method = "other-method", second.to = "2025-01-31";
    got(put(run_of("TP-2", "1")));
    got(put(statement_of(second)));
    // Copied by hand, without trace: never in one row with what was measured.
    got(put(transcript_of("spring.csv", 2, 0.2)));
    got(put(transcript_of("spring.csv", 3, 0.8)));
    const auto trend = got(ledger::trend(database_, {}));
    ASSERT_EQ(trend.size(), 5u);
    int by_hand = 0;
    for (const ledger::TrendSeries& series : trend) {
        ASSERT_EQ(series.periods.size(), 1u);
        EXPECT_EQ(series.periods[0].times, series.transcribed ? 2 : 1);
        if (!series.transcribed) continue;
        ++by_hand;
        EXPECT_NEAR(*series.periods[0].mean_s, 0.4, 1e-15);
        EXPECT_EQ(series.periods[0].orders, 0);
    }
    EXPECT_EQ(by_hand, 1);
    const auto months = got(ledger::trend(database_, {"", {}, {}, TrendQuery::By::month}));
    EXPECT_EQ(months.at(0).periods.at(0).period, "2026-09");
}

TEST_F(Trend, OfTranscriptsHasWhatTheyMustHave) {
    for (const char* body : {"{}", "[]", R"({"material":"x"})"})
        EXPECT_FALSE(put({ledger::Kind::transcript, "spring.csv/2", body, "", "", false}).ok()) << body;
    const ledger::Draft draft = transcript_of("spring.csv", 2, 0.2);
    got(put(draft));
    EXPECT_EQ(got(database_.text("SELECT source FROM found_transcript WHERE source_row = 2")), "spring.csv");
    EXPECT_EQ(got(database_.number("SELECT count(*) FROM found_run")), 0);
    got(put({ledger::Kind::transcript, draft.id, "null", "T. O.", "copied wrongly", true}));
    EXPECT_TRUE(got(ledger::trend(database_, {})).empty());
    EXPECT_EQ(damages(), "");
}

TEST_F(Trend, IsThatOfWhatStandsAfterAnyHistory) {
    // 300 random writes, seed base 20,261,126: runs put in, corrected, withdrawn and put back; statements
    // that change material, month, outcome; before and after the runs. What stands is summed by hand.
    std::mt19937 random(20'261'126);
    const auto one_of = [&](const std::vector<std::string>& words) { return words[random() % words.size()]; };
    std::map<std::string, InventedOrder> orders;
    std::map<std::string, std::map<std::string, double>> runs;  // by order and id
    for (int i = 0; i < 300; ++i) {
        const std::string order = "TP-" + std::to_string(random() % 6);
        const std::string run = std::to_string(random() % 5), id = order + "/" + run;
        const bool there = got(ledger::newest(database_, ledger::Kind::run, id)).has_value();
        if (random() % 4 == 0) {
            InventedOrder one;
            one.id = order;
            one.material = one_of({"Halyard cloth", "Foam", "O'Brine film"});
            one.to = one_of({"2025-03-31", "2026-09-18", "2026-10-01"});
            one.from = one.to;
            one.statement = one_of({"pass", "fail"});
            ledger::Draft draft = statement_of(one);
            draft.who = draft.why = "T. O.";
            got(put(draft));
            orders[order] = one;
        } else if (there && runs[order].contains(run) && random() % 3 == 0) {
            got(put({ledger::Kind::run, id, "null", "T. O.", "withdrawn", true}));
            runs[order].erase(run);
        } else {
            const double decay_s = std::exp(static_cast<double>(random() % 1000) / 100 - 5);
            ledger::Draft draft = run_of(order, run, decay_s);
            draft.who = draft.why = "T. O.";
            got(put(draft));
            runs[order][run] = decay_s;
        }
        if (i % 20 != 19) continue;
        std::map<std::pair<std::string, std::string>, std::vector<double>> expected;
        std::map<std::pair<std::string, std::string>, std::pair<int, int>> counted;
        for (const auto& [name, one] : orders) {
            const std::pair key{one.material, one.to.substr(0, 7)};
            for (const auto& [number, decay_s] : runs[name]) expected[key].push_back(decay_s);
            if (runs[name].empty()) continue;
            ++counted[key].first;
            counted[key].second += one.statement == "fail";
        }
        std::size_t seen = 0;
        for (const ledger::TrendSeries& series :
             got(ledger::trend(database_, {"", {}, {}, TrendQuery::By::month})))
            for (const ledger::TrendPeriod& period : series.periods) {
                const std::pair key{series.material, period.period};
                ASSERT_TRUE(expected.contains(key)) << key.first << key.second;
                double mean = 0;
                for (const double decay_s : expected[key]) mean += std::log(decay_s);
                mean = std::exp(mean / static_cast<double>(expected[key].size()));
                EXPECT_EQ(period.times, static_cast<std::int64_t>(expected[key].size()));
                EXPECT_NEAR(*period.mean_s, mean, 1e-12 * mean);  // another order of summing
                EXPECT_EQ(*period.longest_s, *std::ranges::max_element(expected[key]));
                EXPECT_EQ(period.orders, counted[key].first);
                EXPECT_EQ(period.failed, counted[key].second);
                ++seen;
            }
        EXPECT_EQ(seen, expected.size() - static_cast<std::size_t>(std::ranges::count_if(
                                              expected, [](const auto& one) { return one.second.empty(); })));
        EXPECT_EQ(damages(), "") << "a check works the rows out anew";
    }
}

}  // namespace
