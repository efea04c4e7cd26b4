// Other terms than an order's own: what becomes of a specification asked at other levels.

#include "plan/terms.hpp"

#include <gtest/gtest.h>

namespace {

using namespace ebbtide;
using plan::Requirement;

Requirement requirement(const std::string& id, const char* level) {
    Requirement out;
    out.id = id;
    out.level = plan::parse_level(level).value();
    out.limit_s = 2;
    return out;
}

/// One demand on a decay time, one with an alternative that another test answers.
plan::Specification specification() {
    plan::Specification out;
    Requirement shielding;
    shielding.id = "shielding";
    shielding.supplied = plan::SuppliedLimit{"shielding_factor", 0.2};
    Requirement resistance = shielding;
    resistance.id = "resistance";
    out.demands = {{"decay", {requirement("r1", "10 %")}},
                   {"either", {requirement("r2", "50 %"), shielding}},
                   {"resistance", {resistance}}};
    return out;
}

std::vector<std::string> ids_of(const plan::Specification& asked) {
    std::vector<std::string> ids;
    for (const plan::Demand& demand : asked.demands)
        for (const Requirement& one : demand.any_of) ids.push_back(demand.id + ": " + one.id);
    return ids;
}

TEST(Terms, WithoutLevelsLeaveASpecificationAsItIs) {
    EXPECT_FALSE(plan::Terms{}.any());
    EXPECT_EQ(ids_of(plan::asked_under({}, specification())), ids_of(specification()));
}

TEST(Terms, AskEachRequirementOnADecayTimeOnceALevel) {
    plan::Terms terms;
    terms.levels = plan::parse_levels_asked("1/e, 1 %").value();
    EXPECT_TRUE(terms.any());
    const plan::Specification asked = plan::asked_under(terms, specification());
    EXPECT_EQ(ids_of(asked),
              (std::vector<std::string>{"decay at 1/e: r1 at 1/e", "decay at 1 %: r1 at 1 %",
                                        "either at 1/e: r2 at 1/e", "either at 1/e: shielding at 1/e",
                                        "either at 1 %: r2 at 1 %", "either at 1 %: shielding at 1 %",
                                        "resistance: resistance"}));
    EXPECT_EQ(asked.demands[1].any_of[0].level.value, 0.01);
    EXPECT_EQ(asked.demands[1].any_of[0].limit_s, 2) << "the limit is the requirement's own";
    EXPECT_TRUE(asked.demands[2].any_of[1].supplied) << "what another test answers has no level";
    EXPECT_EQ(plan::levels_asked(asked).size(), 2u);
    EXPECT_EQ(plan::levels_asked(specification()).size(), 2u) << "10 % and 50 %";
}

TEST(Terms, TakeTheRuleAndLeaveWhatIsKnownOfTheMaterial) {
    plan::Order order;
    order.decision_rule.agreed = "both";
    order.decision_rule.history = {{"r1", 0.3, 0.02, "sixty lots"}};
    plan::Terms terms;
    EXPECT_EQ(plan::rule_under(terms, order).agreed, "both");
    terms.decision_rule = plan::parse_rule("guarded:0.83U").value();
    const plan::DecisionRule rule = plan::rule_under(terms, order);
    EXPECT_EQ(rule.guard_times_U, 0.83);
    EXPECT_EQ(rule.agreed, "");
    EXPECT_EQ(rule.history.size(), 1u);
    // A history is of the order's own requirement: at another level it says nothing.
    terms.levels = plan::parse_levels_asked("1 %").value();
    EXPECT_TRUE(plan::rule_under(terms, order).history.empty());
}

TEST(Levels, AreReadWithCommasBetweenAndKeptOnce) {
    const auto levels = plan::parse_levels_asked("0.1, 10 %,500 V").value();
    ASSERT_EQ(levels.size(), 2u);
    EXPECT_EQ(levels[1].kind, plan::Level::Kind::absolute_V);
    for (const char* wrong : {"", ",", "0.1,", "0", "0 %", "110 %", "0,1", "x", "-5 V"}) {
        const auto refused = plan::parse_levels_asked(wrong);
        ASSERT_FALSE(refused.ok()) << wrong;
        EXPECT_FALSE(refused.error().remedy.empty()) << wrong;
    }
}

}  // namespace
