#include <gtest/gtest.h>

#include "paperwork/documents.hpp"

namespace ebbtide::paperwork {
namespace {

using documents::changed;
using documents::line_of;
using Kind = plan::DecisionRule::Kind;

/// The order with its decision rule replaced by the keys given.
std::string ruled(const std::string& keys) {
    return changed(documents::order, "kind = \"simple\"\nagreed = \"both, 2026-01-02\"", keys);
}

plan::DecisionRule rule_of(const std::string& keys) {
    const auto order = parse_order(ruled(keys), "o.toml");
    EXPECT_TRUE(order.ok()) << order.error().text();
    return order.ok() ? order->decision_rule : plan::DecisionRule{};
}

const std::string guarded = "kind = \"guarded\"\nagreed = \"both\"\n";
const std::string history =
    "\n[[decision_rule.history]]\nrequirement = \"r1\"\nmean_s = 0.4\nstandard_deviation_s = 0.05\nsource = "
    "\"2025\"\n";

}  // namespace

TEST(DecisionRuleTable, GuardsByUUnlessItSaysOtherwise) {
    EXPECT_EQ(rule_of("kind = \"simple\"\nagreed = \"both\"").kind, Kind::simple);
    const plan::DecisionRule usual = rule_of(guarded);
    EXPECT_EQ(usual.kind, Kind::guarded);
    EXPECT_TRUE(usual.guards_by_U());
    EXPECT_EQ(usual.guard_times_U, 1);
    EXPECT_EQ(usual.agreed, "both");
    EXPECT_EQ(rule_of(guarded + "guard_times_U = 0.83").guard_times_U, 0.83);
    EXPECT_EQ(rule_of(guarded + "guard_times_U = 0").guard_times_U, 0);
    const plan::DecisionRule fixed = rule_of(guarded + "guard_s = 0.02");
    EXPECT_EQ(fixed.guard_s, 0.02);
    EXPECT_FALSE(fixed.guards_by_U());
}

TEST(DecisionRuleTable, HandsOnTheHistoryOfEachRequirement) {
    const plan::DecisionRule rule = rule_of(guarded + history + changed(history, "\"r1\"", "\"r2\""));
    ASSERT_EQ(rule.history.size(), 2u);
    EXPECT_EQ(rule.history[0].requirement, "r1");
    EXPECT_EQ(rule.history[0].mean_s, 0.4);
    EXPECT_EQ(rule.history[0].standard_deviation_s, 0.05);
    EXPECT_EQ(rule.history[0].source, "2025");
    EXPECT_EQ(rule.history[1].requirement, "r2");
}

TEST(DecisionRuleTable, RefusesAGuardBandThatTheRuleHasNoUseFor) {
    for (const char* key : {"guard_times_U", "guard_s"}) {
        const std::string text =
            ruled("kind = \"simple\"\nagreed = \"both\"\n" + std::string(key) + " = 0.5");
        const auto order = parse_order(text, "o.toml");
        ASSERT_FALSE(order.ok());
        EXPECT_NE(order.error().text().find("no meaning for the simple rule"), std::string::npos);
        EXPECT_NE(order.error().text().find("o.toml:" + line_of(text, key)), std::string::npos)
            << order.error().text();
    }
}

TEST(DecisionRuleTable, RefusesTwoGuardBandsAndImpossibleOnes) {
    const auto complaint = [](const std::string& keys) {
        const auto order = parse_order(ruled(keys), "o.toml");
        return order.ok() ? std::string() : order.error().text();
    };
    EXPECT_NE(complaint(guarded + "guard_times_U = 1\nguard_s = 0.02").find("given twice"),
              std::string::npos);
    EXPECT_NE(complaint(guarded + "guard_times_U = 10.5").find("10.5"), std::string::npos);
    EXPECT_NE(complaint(guarded + "guard_times_U = -1").find("-1"), std::string::npos);
    EXPECT_NE(complaint(guarded + "guard_s = -0.02").find("-0.02"), std::string::npos);
    EXPECT_NE(complaint("kind = \"guard\"\nagreed = \"both\"").find("guarded"), std::string::npos);
    EXPECT_NE(complaint(guarded + history + history).find("stands above already"), std::string::npos);
    EXPECT_NE(complaint(guarded + changed(history, "0.05", "0")).find("standard_deviation_s"),
              std::string::npos)
        << "a history without spread is no history";
    EXPECT_NE(complaint(guarded + changed(history, "source = \"2025\"", "")).find("source"),
              std::string::npos);
}

}  // namespace ebbtide::paperwork
