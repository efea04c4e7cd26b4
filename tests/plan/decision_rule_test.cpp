#include "plan/decision_rule.hpp"

#include <gtest/gtest.h>

namespace ebbtide::plan {
namespace {

using Kind = DecisionRule::Kind;

TEST(DecisionRule, IsReadAsAPersonWritesIt) {
    EXPECT_EQ(parse_rule("simple")->kind, Kind::simple);
    EXPECT_EQ(parse_rule("guarded")->kind, Kind::guarded);
    EXPECT_EQ(parse_rule("guarded")->guard_times_U, 1);
    EXPECT_EQ(parse_rule("guarded:0.83U")->guard_times_U, 0.83);
    EXPECT_FALSE(parse_rule("guarded:0.83U")->guard_s);
    EXPECT_EQ(parse_rule("guarded:0.02s")->guard_s, 0.02);
    EXPECT_EQ(parse_rule(" guarded : 0.02 s ")->guard_s, 0.02);
    EXPECT_EQ(parse_rule("guarded:0U")->guard_times_U, 0);
}

TEST(DecisionRule, OfAnotherShapeIsRefusedWithTheText) {
    for (const char* text :
         {"", "Simple", "guard", "guardedU", "guarded:", "guarded:U", "guarded:1", "guarded:-1U",
          "guarded:11U", "guarded:-0.1s", "guarded:nans", "guarded:infs", "guarded:1e400s", "guarded:0,02s",
          "guarded:2 ms", "simple:1U", "guarded:1U:2U"}) {
        const auto rule = parse_rule(text);
        ASSERT_FALSE(rule.ok()) << text;
        EXPECT_EQ(rule.error().code, Fault::bad_input);
        EXPECT_NE(rule.error().what.find(text), std::string::npos) << text;
        EXPECT_FALSE(rule.error().remedy.empty());
    }
}

TEST(DecisionRule, WrittenAsTextReadsBackAsItself) {
    for (const char* text : {"simple", "guarded:1U", "guarded:0.83U", "guarded:0.02s", "guarded:0s"})
        EXPECT_EQ(text_of(*parse_rule(text)), text);
}

TEST(DecisionRule, IsSpokenOfByItsGuardBand) {
    EXPECT_EQ(in_words(*parse_rule("simple")), "simple acceptance");
    EXPECT_EQ(in_words(*parse_rule("guarded")), "guarded acceptance, w = U");
    EXPECT_EQ(in_words(*parse_rule("guarded:0.83U")), "guarded acceptance, w = 0.83 U");
    EXPECT_EQ(in_words(*parse_rule("guarded:0.02s")), "guarded acceptance, w = 0.02 s");
}

}  // namespace
}  // namespace ebbtide::plan
