// Groups of times side by side: what differs, what is as good as alike, what changes with time.

#include "work/compare.hpp"

#include <gtest/gtest.h>
#include <rapidcheck.h>
#include <rapidcheck/gtest.h>

#include <cmath>

#include "support/agrees.hpp"
#include "work/compare_sources.hpp"

namespace ebbtide::work {
namespace {

using testing_support::agrees;

std::vector<LotTime> table(const std::string& text, const std::string& name = "times.csv") {
    auto times = times_of_table(text, name);
    EXPECT_TRUE(times.ok()) << (times ? "" : times.error().text());
    return times ? *times : std::vector<LotTime>{};
}

Comparison compared(const std::vector<LotTime>& times, const std::string& by, double alike_within = 1.25) {
    CompareRequest request;
    request.by = by;
    request.alike_within = alike_within;
    auto found = compare(times, request);
    EXPECT_TRUE(found.ok()) << (found ? "" : found.error().text());
    return found ? *found : Comparison{};
}

bool says(const std::vector<std::string>& lines, const std::string& words) {
    for (const std::string& line : lines)
        if (line.find(words) != std::string::npos) return true;
    return false;
}

// NIST/SEMATECH e-Handbook 7.3.1 has two procedures of assembling a device, in minutes, with summaries
// printed (from memory: 36.0909 with 4.9082 of eleven, 32.2222 with 2.5386 of nine, t = 2.269 with 15.5
// degrees of freedom for unequal variances). Values with just these summaries stand for logarithms here.
std::vector<LotTime> assembly_times() {
    std::string text = "group,decay_s\n";
    const auto add = [&](const char* group, int n, double mean, double s) {
        // Half of them above the mean and half below, one on it: variance n - 1 in units of the step.
        const double step = s;
        for (int i = 0; i < n; ++i) {
            const double off = i == 0 ? 0 : i % 2 == 0 ? step : -step;
            char cell[64];
            std::snprintf(cell, sizeof cell, "%s,%.17g\n", group, std::exp((mean + off) / 100));
            text += cell;
        }
    };
    add("first", 11, 36.0909, 4.9082);
    add("second", 9, 32.2222, 2.5386);
    return table(text);
}

TEST(Compare, FindsTheDifferenceOfTheHandbooksTwoProcedures) {
    const Comparison found = compared(assembly_times(), "group");
    ASSERT_EQ(found.pairs.size(), 1u);
    const ComparedPair& pair = found.pairs.front();
    EXPECT_TRUE(agrees(100 * std::log(pair.ratio), "-3.8687"));
    // R 4.2.2: 2 * pt(-2.2694, 15.533); a t of 2.269 in the handbook.
    EXPECT_NEAR(pair.p, 0.0379, 0.0005);
    EXPECT_EQ(pair.p, pair.p_alone);
    EXPECT_FALSE(pair.paired);
    EXPECT_TRUE(says(found.reasons, "first takes 1.04 ("));
    // 4 % apart, well within 25 %: both things are true, and both are said.
    EXPECT_TRUE(says(found.reasons, "but they are as good as alike: within a factor of 1.25"));
}

// R 4.2.2: t.test(log(after/before)); six specimens, before and after washing.
constexpr const char* washed =
    "specimen,state,decay_s\nA,new,0.30\nB,new,0.34\nC,new,0.27\nD,new,0.41\nE,new,0.36\nF,new,0.31\n"
    "A,washed,0.38\nB,washed,0.41\nC,washed,0.36\nD,washed,0.50\nE,washed,0.47\nF,washed,0.37\n";

TEST(Compare, ComparesTheSameSpecimensOneByOne) {
    const Comparison found = compared(table(washed), "state");
    ASSERT_EQ(found.pairs.size(), 1u);
    EXPECT_TRUE(found.pairs[0].paired);
    EXPECT_EQ(found.pairs[0].first, "new");
    EXPECT_TRUE(agrees(std::log(found.pairs[0].ratio), "0.22554878"));
    EXPECT_TRUE(agrees(std::log(*found.pairs[0].ratio_interval.low), "0.17807214"));
    EXPECT_TRUE(agrees(std::log(*found.pairs[0].ratio_interval.high), "0.27302542"));
    EXPECT_NEAR(found.pairs[0].p, 6.5108697e-05, 1e-9);
    EXPECT_TRUE(says(found.reasons, "washed takes 1.25 (1.19 to 1.31) times as long as new"));
    EXPECT_TRUE(says(found.cautions, "specimen by specimen"));
    // Without their names they are twelve specimens.
    std::vector<LotTime> nameless = table(washed);
    for (LotTime& one : nameless) one.specimen.clear();
    const Comparison apart = compared(nameless, "state");
    EXPECT_FALSE(apart.pairs[0].paired);
    EXPECT_NEAR(apart.pairs[0].ratio, found.pairs[0].ratio, 1e-12);
    EXPECT_GT(apart.pairs[0].p, found.pairs[0].p);
}

TEST(Compare, NeverLosesARunThatDidNotReachTheLevel) {
    const std::string text =
        "group,decay_s,status\na,0.30,measured\na,0.34,measured\na,0.29,measured\na,0.36,measured\n"
        "b,0.31,measured\nb,0.35,measured\nb,0.40,not_reached\nb,0.40,not_reached\n";
    const Comparison found = compared(table(text), "group");
    ASSERT_EQ(found.groups.size(), 2u);
    EXPECT_EQ(found.groups[1].not_reached, 2u);
    EXPECT_GT(*found.groups[1].mean_s, 0.36);  // their lengths alone would give 0.363
    EXPECT_TRUE(says(found.cautions, "Where times are bounds"));
    const Comparison none =
        compared(table(text + "c,0.40,not_reached\nc,0.40,not_reached\nd,0.01,below_resolution\n"), "group");
    EXPECT_EQ(none.pairs.size(), 1u);
    EXPECT_TRUE(says(none.reasons, "c is not compared: none of its specimens reached the level"));
    EXPECT_TRUE(says(none.reasons, "d is not compared: one specimen"));
    EXPECT_NO_THROW((void)comparison_json(none, {}, "").dump());
}

TEST(Compare, CorrectsForAllPairsThatWereLookedAt) {
    std::string text = "supplier,decay_s\n";
    const double offsets[] = {-0.06, -0.02, 0.01, 0.03, 0.05};
    for (const char* supplier : {"one", "two", "three", "four"})
        for (const double off : offsets)
            text += std::string(supplier) + "," +
                    std::to_string(0.3 * std::exp(off + (supplier[0] == 'f' ? 0.2 : 0))) + "\n";
    const Comparison found = compared(table(text), "supplier");
    ASSERT_EQ(found.pairs.size(), 6u);
    ASSERT_TRUE(found.overall);
    EXPECT_LT(found.overall->p, 0.001);
    for (const ComparedPair& pair : found.pairs) {
        EXPECT_GE(pair.p, pair.p_alone);
        const bool four = pair.first == "four" || pair.second == "four";
        EXPECT_EQ(pair.p < 0.05, four) << pair.first << " " << pair.second;
    }
    EXPECT_TRUE(says(found.cautions, "6 pairs were looked at"));
}

// scipy.stats.linregress of SciPy 1.10 on one value a year, as in tests/stats/censored_regression_test.cpp:
// slope 0.049, p 0.0037890079. A year is 365.2425 days, a calendar's years are not quite alike.
TEST(Compare, FollowsTheYears) {
    const double logs[] = {0.10, 0.13, 0.21, 0.22, 0.30};
    std::string text = "date,decay_s\n";
    for (int i = 0; i < 5; ++i)
        for (const double off : {-0.02, 0.02})
            text += std::to_string(2021 + i) + "-06-15," + std::to_string(std::exp(logs[i] + off)) + "\n";
    const Comparison found = compared(table(text), "year");
    ASSERT_TRUE(found.trend);
    EXPECT_NEAR(found.trend->ln_per_year, 0.049, 1e-4);
    EXPECT_NEAR(found.trend->p, 0.0037890079, 2e-5);
    // t(0.975, 3) = 3.182446 of any table, the error from linregress.
    EXPECT_NEAR(*found.trend->interval.high, 0.049 + 3.182446 * 0.00597215762, 1e-4);
    EXPECT_EQ(found.trend->days, 5u);
    EXPECT_TRUE(says(found.reasons, "From 2021-06-15 to 2025-06-15 times changed by +5 % a year"));
    EXPECT_EQ(found.groups.front().name, "2021");
}

TEST(Compare, LeavesLevelsFreeWhereAGroupHasSeveralDays) {
    std::string text = "supplier,date,decay_s\n";
    int i = 0;
    for (const char* supplier : {"one", "two"})
        for (const char* day : {"2024-01-10", "2024-07-10", "2025-01-10", "2025-07-10"})
            for (int k = 0; k < 2; ++k) {
                const double years = std::string(day).substr(0, 4) == "2024" ? 0.0 : 1.0;
                const double half = std::string(day).substr(5, 2) == "07" ? 0.5 : 0.0;
                const double ln = (supplier[0] == 't' ? 1.0 : 0.0) + 0.2 * (years + half) + 0.01 * (i++ % 3);
                text += std::string(supplier) + "," + day + "," + std::to_string(std::exp(ln)) + "\n";
            }
    const Comparison found = compared(table(text), "supplier");
    ASSERT_TRUE(found.trend);
    EXPECT_NEAR(found.trend->ln_per_year, 0.2, 0.01);
    EXPECT_LT(found.trend->p, 0.001);
}

TEST(Compare, SaysWhatItCannotCompare) {
    const auto fault = [](const std::vector<LotTime>& times, CompareRequest request) {
        const auto found = compare(times, request);
        return found ? std::string("compared") : found.error().where + ": " + found.error().what;
    };
    CompareRequest request;
    EXPECT_EQ(fault(table(washed), request), "--by: all times are of one source: times.csv");
    request.by = "colour";
    EXPECT_EQ(fault(table(washed), request), "--by: 'colour' is nothing to compare by");
    request.by = "supplier";
    EXPECT_EQ(fault(table(washed), request), "--by: no time says what its supplier is");
    request.by = "state";
    request.alike_within = 1;
    EXPECT_EQ(fault(table(washed), request), "--alike-within: 1 is no factor above 1");
    request.alike_within = 1.1;
    request.by = "state,specimen";
    EXPECT_EQ(fault(table(washed), request), "--by: 'specimen' is nothing to compare by");
    EXPECT_FALSE(times_of_table("decay_s,date\n0.3,last week\n", "t.csv").ok());
    EXPECT_FALSE(times_of_table("decay_s,colour\n0.3,red\n", "t.csv").ok());
}

TEST(Compare, FormsGroupsBySeveralLabels) {
    const Comparison found = compared(
        table("lot,face,decay_s\n1,front,0.3\n1,front,0.31\n1,back,0.4\n1,back,0.42\n2,front,0.3\n2,,0.3\n"),
        "lot,face");
    ASSERT_EQ(found.groups.size(), 3u);
    EXPECT_EQ(found.groups[1].name, "1, back");
    EXPECT_TRUE(says(found.left_out, "1 time without lot,face"));
}

// Upper bounds below lower ones, and hardly one the other way round: the best law lies hundreds of decades
// away.
TEST(Compare, HasNoMeanWhereBoundsContradictEachOther) {
    const auto of = [](const char* group, stats::Observation time) {
        LotTime one;
        one.time = time;
        one.labels["group"] = group;
        return one;
    };
    // Found by the property below; in this order of summing.
    const std::vector<LotTime> times{
        of("0", stats::at_most(std::exp(-2.8))),  of("1", stats::at_least(std::exp(-2.2))),
        of("0", stats::at_least(std::exp(-2.7))), of("1", stats::at_most(std::exp(-2.4))),
        of("0", stats::at_least(std::exp(-3.0))), of("1", stats::at_most(std::exp(-2.7))),
        of("1", stats::at_most(std::exp(-2.4))),  of("1", stats::at_most(std::exp(-2.9))),
        of("1", stats::at_least(std::exp(-3.0)))};
    CompareRequest request;
    request.by = "group";
    const auto found = compare(times, request);
    ASSERT_TRUE(found) << found.error().text();
    for (const ComparedGroup& group : found->groups)
        if (group.mean_s) {
            EXPECT_GT(*group.mean_s, 1e-9) << group.name;
            EXPECT_LT(*group.mean_s, 1e6) << group.name;
        }
    for (const ComparedPair& pair : found->pairs) EXPECT_GT(pair.ratio, 1e-9);
}

RC_GTEST_PROP(Compare, IsFiniteForAnyTimes, ()) {
    std::vector<LotTime> times;
    const int count = *rc::gen::inRange(2, 40);
    for (int i = 0; i < count; ++i) {
        LotTime one;
        const double time = std::exp(*rc::gen::inRange(-30, 30) / 10.0);
        const int kind = *rc::gen::inRange(0, 6);
        one.time = kind == 0   ? stats::at_least(time)
                   : kind == 1 ? stats::at_most(time)
                   : kind == 2 ? stats::between(time, 1.5 * time)
                               : stats::exactly(time);
        if (*rc::gen::arbitrary<bool>()) one.specimen = std::string(1, static_cast<char>('A' + i % 5));
        one.labels["group"] = std::to_string(*rc::gen::inRange(0, 4));
        if (*rc::gen::arbitrary<bool>())
            one.labels["date"] = "20" + std::to_string(20 + *rc::gen::inRange(0, 6)) + "-03-01";
        times.push_back(std::move(one));
    }
    CompareRequest request;
    request.by = "group";
    const auto found = compare(times, request);
    if (!found) return;
    for (const ComparedPair& pair : found->pairs) {
        RC_ASSERT(std::isfinite(pair.p) && pair.p >= 0 && pair.p <= 1);
        RC_ASSERT(pair.alike_p >= 0 && pair.alike_p <= 1);
        RC_ASSERT(pair.ratio > 0);
    }
    (void)comparison_json(*found, {}, "").dump();
}

}  // namespace
}  // namespace ebbtide::work
