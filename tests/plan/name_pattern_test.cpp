// What the names of recordings say, and which patterns could say two things.

#include "plan/name_pattern.hpp"

#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

namespace ebbtide::plan {
namespace {

using Reading = NamePattern::Reading;

std::vector<Reading> read(const std::string& pattern, const std::string& name) {
    const auto parsed = NamePattern::parse(pattern);
    EXPECT_TRUE(parsed.ok()) << (parsed.ok() ? "" : parsed.error().text());
    return parsed->readings(name);
}

}  // namespace

TEST(NamePattern, TellsTheParts) {
    const auto found = read("{specimen}_{face}_{conditions}_{polarity}_{replicate} *.csv",
                            "K1_front_dry_neg_02 second try.csv");
    ASSERT_EQ(found.size(), 1u);
    EXPECT_EQ(found[0].specimen, "K1");
    EXPECT_EQ(found[0].face, "front");
    EXPECT_EQ(found[0].conditions, "dry");
    EXPECT_EQ(found[0].polarity, Polarity::negative);
    EXPECT_EQ(found[0].replicate, 2);
}
TEST(NamePattern, ReadsEveryWordForAPolarity) {
    for (const char* word : {"+", "plus", "pos", "positive", "p", "POS", "Plus"})
        EXPECT_EQ(read("{polarity}.csv", std::string(word) + ".csv").at(0).polarity, Polarity::positive)
            << word;
    for (const char* word : {"-", "minus", "neg", "negative", "n", "N"})
        EXPECT_EQ(read("{polarity}.csv", std::string(word) + ".csv").at(0).polarity, Polarity::negative)
            << word;
    EXPECT_TRUE(read("{polarity}.csv", "positiv.csv").empty());
    // A sign that is also what stands between the parts.
    const auto found = read("{specimen}-{polarity}-{replicate}", "K1---3");
    ASSERT_EQ(found.size(), 1u);
    EXPECT_EQ(found[0].polarity, Polarity::negative);
}
TEST(NamePattern, DoesNotFitOtherNames) {
    for (const char* name :
         {"", "K1-2", "K1-2.txt", "K1-2.csv ", "K1-0.csv", "K1-x.csv", "-2.csv", "K1-1001.csv", "K1-+2.csv"})
        EXPECT_TRUE(read("{specimen}-{replicate}.csv", name).empty()) << name;
}
TEST(NamePattern, GivesBothWaysWhenThereAreTwo) {
    const auto found = read("{specimen}-{face}.csv", "K1-a-b.csv");
    ASSERT_EQ(found.size(), 2u);
    // Who knows the specimens can tell.
    const auto known =
        NamePattern::parse("{specimen}-{face}.csv")->readings("K1-a-b.csv", [](const Reading& reading) {
            return reading.specimen == "K1";
        });
    ASSERT_EQ(known.size(), 1u);
    EXPECT_EQ(known[0].face, "a-b");
    // What * takes makes no difference.
    EXPECT_EQ(read("*-{replicate}-*", "a-1-b").size(), 1u);
}
TEST(NamePattern, IsRefusedWhenItCouldAlwaysMeanTwoThings) {
    for (const auto& [pattern, part] : std::vector<std::pair<std::string, std::string>>{
             {"{specimen}{replicate}.csv", "nothing stands before"},
             {"*{specimen}.csv", "nothing stands before"},
             {"{replicate}*.csv", "nothing stands before"},
             {"{specimen}**.csv", "nothing stands before"},
             {"{specimen}-{specimen}", "twice"},
             {"{sample}.csv", "'{sample' is no part"},
             {"{specimen", "is no part"},
             {"a/{specimen}", "holds a '/'"}}) {
        const auto parsed = NamePattern::parse(pattern);
        ASSERT_FALSE(parsed.ok()) << pattern;
        EXPECT_NE(parsed.error().what.find(part), std::string::npos) << parsed.error().what;
        EXPECT_FALSE(parsed.error().remedy.empty());
    }
}
TEST(NamePattern, EndsOnNamesThatFitInManyWays) {
    EXPECT_LE(read("*a*a*a*a*a*a*a*b", std::string(255, 'a')).size(), 2u);
}
RC_GTEST_PROP(NamePattern, ReadsWhatItWasWrittenFrom, ()) {
    const auto word = [] {
        return *rc::gen::nonEmpty(
            rc::gen::container<std::string>(rc::gen::elementOf(std::string("AKab19 ."))));
    };
    const std::string specimen = word(), face = word();
    const int replicate = *rc::gen::inRange(1, 1001);
    const auto found = read("{specimen}_{face}_{replicate}.csv",
                            specimen + "_" + face + "_" + std::to_string(replicate) + ".csv");
    RC_ASSERT(found.size() == 1u);
    RC_ASSERT(found[0].specimen == specimen);
    RC_ASSERT(found[0].face == face);
    RC_ASSERT(found[0].replicate == replicate);
}

}  // namespace ebbtide::plan
