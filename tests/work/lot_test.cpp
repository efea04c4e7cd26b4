// What is said of a lot: from times, from orders, in words.

#include "work/lot.hpp"

#include <gtest/gtest.h>
#include <rapidcheck.h>
#include <rapidcheck/gtest.h>

#include <cmath>

#include "stats/tolerance.hpp"
#include "work/lot_history.hpp"
#include "work/lot_order.hpp"
#include "work/sampling.hpp"

namespace ebbtide::work {
namespace {

std::vector<LotTime> times_of(const std::string& table) {
    auto times = read_lot_times(table, "times.csv");
    EXPECT_TRUE(times.ok()) << (times ? "" : times.error().text());
    return times ? *times : std::vector<LotTime>{};
}

Lot described(const std::string& table, LotRequest request = {}) {
    auto lot = describe_lot(times_of(table), request);
    EXPECT_TRUE(lot.ok()) << (lot ? "" : lot.error().text());
    return lot ? *lot : Lot{};
}

LotRequest with_limit(double limit_s) {
    LotRequest request;
    request.limit_s = limit_s;
    return request;
}

bool says(const std::vector<std::string>& lines, const std::string& words) {
    for (const std::string& line : lines)
        if (line.find(words) != std::string::npos) return true;
    return false;
}

TEST(LotTimes, ReadWhatIsKnownOfEachTime) {
    const auto times = times_of(
        "# Roll 4\nstatus;specimen;decay_s;upper_s\nmeasured;A;0.31;\nmeasured;B;0.2;0.25\nmeasured;C;0;0.1\n"
        "not_reached;D;0.5;\n\nbelow_resolution;E;0.02;\n");
    ASSERT_EQ(times.size(), 5u);
    using stats::Known;
    const std::vector<Known> known{Known::exactly, Known::between, Known::at_most, Known::at_least,
                                   Known::at_most};
    for (std::size_t i = 0; i < known.size(); ++i) EXPECT_EQ(times[i].time.known, known[i]) << i;
    EXPECT_EQ(times[1].time.upper, 0.25);
    EXPECT_EQ(times[2].time.value, 0.1);
    EXPECT_EQ(times[3].specimen, "D");
}

TEST(LotTimes, NameTheLineAndWhatIsWrongWithIt) {
    const auto fault = [](const std::string& table) {
        const auto times = read_lot_times(table, "t.csv");
        return times ? "read" : times.error().where + ": " + times.error().what;
    };
    EXPECT_EQ(fault(""), "t.csv: there are no times");
    EXPECT_EQ(fault("decay_s,status\n"), "t.csv: there are no times");
    EXPECT_EQ(fault("time,status\n1,measured\n"), "t.csv line 1: column 1 'time' is not known");
    EXPECT_EQ(fault("status\nmeasured\n"), "t.csv line 1: no column 'decay_s'");
    EXPECT_EQ(fault("decay_s,decay_s\n1,1\n"), "t.csv line 1: two columns are called 'decay_s'");
    EXPECT_EQ(fault("decay_s,status\n0,5;measured\n"), "t.csv line 2: status '5;measured' is not known");
    EXPECT_EQ(fault("decay_s,status\n0,5,measured\n"), "t.csv line 2: 3 cells under 2 headings");
    EXPECT_EQ(fault("decay_s,status\nnan,measured\n"), "t.csv line 2: decay_s 'nan' is no number");
    EXPECT_EQ(fault("decay_s,status\n0.5,\n"), "t.csv line 2: status '' is not known");
    EXPECT_EQ(fault("decay_s,status\n-0.5,measured\n"), "t.csv line 2: -0.5 is no time above zero");
    EXPECT_EQ(fault("decay_s,upper_s\n0.5,0.4\n"),
              "t.csv line 2: the upper bound 0.4 is not above the lower one 0.5");
    EXPECT_EQ(fault("decay_s,status,upper_s\n0.5,not_reached,0.6\n"),
              "t.csv line 2: a time that is not_reached has one bound, and upper_s gives a second");
    EXPECT_EQ(fault("decay_s,replicate\n0.5,first\n"), "t.csv line 2: replicate 'first' is no number");
}

TEST(Lot, CountsASpecimenOnceHoweverOftenItWasMeasured) {
    const Lot lot = described(
        "specimen,replicate,decay_s,status\nA,1,0.30,measured\nA,2,0.40,measured\nB,1,0.35,measured\n"
        "B,2,0.5,not_reached\nC,1,0.1,below_resolution\nC,2,0.2,measured\nD,1,0.1,below_resolution\nD,2,0.5,"
        "not_reached\n");
    EXPECT_EQ(lot.values, 8u);
    EXPECT_EQ(lot.specimens, 3u);
    EXPECT_EQ(lot.measured, 1u);
    EXPECT_EQ(lot.not_reached, 1u);       // B: a mean with a lower bound in it is one
    EXPECT_EQ(lot.below_resolution, 1u);  // C likewise
    EXPECT_NEAR(lot.sample[0].value, std::sqrt(0.30 * 0.40), 1e-12);
    EXPECT_TRUE(says(lot.left_out, "specimen D"));  // both: nothing is known of the mean
    EXPECT_TRUE(says(lot.cautions, "Left out: specimen D"));
}

// The bound by hand: exp(mean + k s) with k from the table (3.4066 for five, 90 % with 95 %).
TEST(Lot, IsShownGoodWhereTheBoundLiesWithinTheLimit) {
    const std::string table = "decay_s\n0.30\n0.33\n0.28\n0.31\n0.35\n";
    double mean = 0, squares = 0;
    for (const double t : {0.30, 0.33, 0.28, 0.31, 0.35}) mean += std::log(t) / 5;
    for (const double t : {0.30, 0.33, 0.28, 0.31, 0.35}) squares += std::pow(std::log(t) - mean, 2);
    const double bound_s = std::exp(mean + 3.4066 * std::sqrt(squares / 4));
    const Lot good = described(table, with_limit(bound_s * 1.001));
    EXPECT_EQ(good.showing, stats::Showing::shown);
    EXPECT_NEAR(*good.tolerance[0].upper_s, bound_s, 1e-5);
    EXPECT_TRUE(says(good.reasons, "Shown, with 95 % confidence: 90 % of the lot take at most"));
    EXPECT_TRUE(says(good.cautions, "5 within the limit of 5 still allow 45 % of the lot"));
    const Lot open = described(table, with_limit(bound_s * 0.999));
    EXPECT_EQ(open.showing, stats::Showing::open);
    EXPECT_TRUE(open.outlook && open.needed);
    EXPECT_TRUE(says(open.reasons, "Three more specimens"));
    const Lot bad = described(table, with_limit(0.29));
    EXPECT_EQ(bad.showing, stats::Showing::refuted);
    EXPECT_FALSE(described(table).showing);
}

TEST(Lot, MakesNoClaimWhereTheSamplingSupportsNone) {
    LotRequest request = with_limit(0.5);
    request.no_claim = "nobody knows where the specimens come from";
    const Lot lot = described("decay_s\n0.3\n0.33\n0.29\n0.31\n", request);
    EXPECT_FALSE(lot.showing);
    EXPECT_TRUE(lot.tolerance.empty());
    EXPECT_TRUE(says(lot.reasons, "No claim on the lot: nobody knows"));
}

TEST(Lot, SaysInWordsWhyThereIsNoLaw) {
    const Lot none = described("decay_s,status\n0.5,not_reached\n0.5,not_reached\n", with_limit(0.4));
    EXPECT_EQ(none.lognormal.fit.outcome, stats::FitOutcome::one_time_explains_all);
    EXPECT_TRUE(says(none.cautions, "No lognormal law: one single time agrees with every specimen"));
    EXPECT_EQ(none.over_limit, 2);
    const Lot same = described("decay_s\n0.5\n0.5\n0.5\n", with_limit(0.6));
    EXPECT_FALSE(same.lognormal.fit.fitted());
    EXPECT_EQ(same.showing, stats::Showing::open);
    const Lot one = described("decay_s\n0.5\n", with_limit(0.6));
    EXPECT_FALSE(one.showing);
    EXPECT_NO_THROW((void)json_of(none).dump());
}

TEST(Lot, ARunThatDidNotReachTheLevelNeverMakesItLookBetter) {
    const std::string measured =
        "decay_s,status\n0.30,measured\n0.33,measured\n0.28,measured\n0.31,measured\n";
    const Lot without = described(measured, with_limit(0.5));
    const Lot with = described(measured + "0.5,not_reached\n", with_limit(0.5));
    EXPECT_EQ(without.showing, stats::Showing::shown);
    EXPECT_NE(with.showing, stats::Showing::shown);
    EXPECT_EQ(with.over_limit, 1);
    EXPECT_GT(with.lognormal.fit.location, without.lognormal.fit.location);
}

TEST(Lot, FindsWhatStandsApartDriftsAndDiffers) {
    std::string table = "specimen,replicate,face,decay_s\n";
    for (int specimen = 0; specimen < 10; ++specimen)
        for (int replicate = 1; replicate <= 3; ++replicate)
            for (const char* face : {"front", "back"}) {
                const double level = std::sin(7.0 * specimen) * 0.04 + (face[0] == 'b' ? 0.3 : 0) +
                                     0.05 * replicate + std::cos(5.0 * specimen + replicate) * 0.003 +
                                     (specimen == 4 ? 0.7 : 0);
                table += "S" + std::to_string(specimen) + "," + std::to_string(replicate) + "," + face + "," +
                         std::to_string(0.3 * std::exp(level)) + "\n";
            }
    const Lot lot = described(table);
    EXPECT_EQ(lot.specimens, 10u);
    EXPECT_TRUE(says(lot.cautions, "Specimen 5 stands apart"));
    EXPECT_TRUE(says(lot.cautions, "are no 60 specimens"));
    EXPECT_EQ(lot.differences.size(), 1u);
    ASSERT_TRUE(lot.trend);
    EXPECT_NEAR(lot.trend->slope, 0.05, 0.02);
}

/// A paragraph that says all these things.
void expect_words(const std::string& paragraph, const std::vector<std::string>& words) {
    for (const std::string& one : words)
        EXPECT_NE(paragraph.find(one), std::string::npos) << one << "\n" << paragraph;
}

constexpr const char* five = "decay_s\n0.30\n0.33\n0.28\n0.31\n0.35\n";

// Typical: the geometric mean 0.313 s; the bound for 90 % exp(mean + 3.4066 s) = 0.420 s, by hand as above.
TEST(PlainWords, NameTheNumbersThatDecided) {
    const std::string passed = described(five, with_limit(0.5)).in_plain_words;
    expect_words(passed,
                 {"5 specimens were tested", "a typical one takes 0.313 s",
                  "the slowest that was measured took 0.350 s", "The limit is 0.500 s, and none was over it",
                  "The lot passes", "9 of every 10 pieces of the lot take no longer than 0.420 s",
                  "at most 5 would pass"});
    const std::string open = described(five, with_limit(0.4)).in_plain_words;
    expect_words(open, {"The limit is 0.400 s", "neither passes nor fails", "times up to 0.420 s",
                        "over the limit", "specimens in all"});
    const std::string failed = described(five, with_limit(0.29)).in_plain_words;
    expect_words(failed, {"The limit is 0.290 s, and 4 were over it", "The lot fails",
                          "fewer than 9 of every 10 pieces", "95 %"});
    EXPECT_EQ(described(five).in_plain_words, "");
    for (const std::string& paragraph : {passed, open, failed})
        for (const char* jargon : {"confidence", "tolerance", "lognormal", "quantile", "likelihood", "sigma"})
            EXPECT_EQ(paragraph.find(jargon), std::string::npos) << jargon;
}

TEST(PlainWords, SayWhatBecameOfRunsThatNeverEnded) {
    const Lot lot = described(
        "decay_s,status\n0.30,measured\n0.33,measured\n0.28,measured\n0.40,not_reached\n0.40,not_reached\n",
        with_limit(0.4));
    expect_words(lot.in_plain_words,
                 {"2 were not discharged when their records ended, and count as slower than that",
                  "The limit is 0.400 s, and 2 were over it"});
    LotRequest request = with_limit(0.5);
    request.no_claim = "nobody knows where the specimens come from";
    expect_words(described(five, request).in_plain_words,
                 {"nothing is said of the lot, because nobody knows where the specimens come from"});
}

TEST(LotHistory, SaysHowSurelyAStatementIsWrong) {
    LotRequest request = with_limit(0.4);
    const Lot alone = described(five, request);
    ASSERT_TRUE(alone.conforming);
    EXPECT_FALSE(alone.global_risk);
    // The bound lies over the limit: by as much as the confidence falls short of what was asked for.
    EXPECT_LT(*alone.conforming, 0.95);
    const auto good = stated_history(0.25, 1.05, 1.1), poor = stated_history(0.45, 1.05, 1.1);
    ASSERT_TRUE(good.ok() && poor.ok());
    request.history = *good;
    const Lot among_good = described(five, request);
    request.history = *poor;
    const Lot among_poor = described(five, request);
    EXPECT_GT(*among_good.conforming, *alone.conforming);
    EXPECT_LT(*among_poor.conforming, *among_good.conforming);
    EXPECT_GT(among_good.global_risk->conforming, 0.99);
    EXPECT_LT(among_poor.global_risk->conforming, 0.1);
    // What is said of the lot itself does not depend on other lots.
    EXPECT_EQ(among_poor.showing, alone.showing);
    EXPECT_TRUE(says(among_poor.reasons, "the chance that the lot is as good as claimed is"));
    EXPECT_TRUE(says(among_poor.reasons, "Of lots such as that history has"));
    EXPECT_TRUE(says(among_poor.cautions, "a new supplier, machine or recipe has none"));
    request.limit_s = 0.6;
    EXPECT_TRUE(says(described(five, request).reasons, "the chance that this acceptance is wrong is"));
}

TEST(LotHistory, IsTakenFromEarlierLots) {
    const auto times = read_lot_times(
        "lot,decay_s,status\nA,0.30,measured\nA,0.36,measured\nB,0.28,measured\nB,0.31,measured\nC,0.33,"
        "measured\nC,0.35,measured\nC,0.50,not_reached\nD,0.50,not_reached\nD,0.50,not_reached\n",
        "earlier.csv", LabelColumns::read);
    ASSERT_TRUE(times.ok());
    const auto prior = history_of_times(*times, "earlier.csv");
    ASSERT_TRUE(prior.ok()) << (prior ? "" : prior.error().text());
    EXPECT_NE(prior->source.find("3 lots, 1 left out that have bounds alone"), std::string::npos)
        << prior->source;
    EXPECT_GT(prior->history.between, 0);
    EXPECT_EQ(prior->history.degrees_of_freedom, 4);
    const auto fault = [](const std::string& table) {
        const auto rows = read_lot_times(table, "t.csv", LabelColumns::read);
        const auto found = history_of_times(*rows, "t.csv");
        return found ? std::string("taken") : found.error().what;
    };
    EXPECT_EQ(fault("decay_s\n0.3\n"), "a time does not say of which lot it is");
    EXPECT_EQ(fault("lot,decay_s\n1,0.3\n1,0.4\n2,0.3\n"), "2 earlier lots are no history");
    EXPECT_EQ(fault("lot,decay_s\n1,0.3\n2,0.3\n3,0.4\n"), "no earlier lot shows how its specimens differ");
    EXPECT_FALSE(stated_history(0.3, 1.0, 1.2).ok());
    EXPECT_FALSE(stated_history(-1, 1.1, 1.2).ok());
}

RC_GTEST_PROP(LotTimes, AreReadOrRefusedWhateverTheTextIs, ()) {
    const auto pieces = *rc::gen::container<std::vector<std::string>>(rc::gen::element<std::string>(
        "decay_s", "status", "upper_s", ",", ";", "\t", "\n", "0.5", "1e308", "-1", "nan", "1e-320",
        "measured", "not_reached", "below_resolution", "specimen", "A", "#", "\"", "\xFF", " "));
    std::string table = *rc::gen::arbitrary<bool>() ? "decay_s,status,specimen\n" : "";
    for (const std::string& piece : pieces) table += piece;
    const auto times = read_lot_times(table, "t.csv");
    if (!times) {
        RC_ASSERT(!times.error().what.empty());
        return;
    }
    const auto lot = describe_lot(*times, with_limit(0.5));
    if (lot) (void)json_of(*lot).dump(-1, ' ', false, nlohmann::json::error_handler_t::replace);
}

TEST(Sampling, RefusesWhatIsNoPlan) {
    const auto fault = [](SamplingRequest request) {
        const auto plan = plan_sampling(request);
        return plan ? std::string("planned") : plan.error().where;
    };
    SamplingRequest request;
    EXPECT_EQ(fault(request), "planned");
    request.beyond = 1.5;
    EXPECT_EQ(fault(request), "--beyond");
    request = {};
    request.risks = {0.1, 0.95, 0.1, 0.05};
    EXPECT_EQ(fault(request), "--good, --poor");
    request = {};
    request.specimens = 1;
    EXPECT_EQ(fault(request), "--specimens");
    request = {};
    request.risks = {0.0999, 0.99, 0.1, 0.01};
    EXPECT_EQ(fault(request), "--good, --poor");
}

}  // namespace
}  // namespace ebbtide::work
