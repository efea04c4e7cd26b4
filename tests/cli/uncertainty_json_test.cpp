// Budgets and advice of a judged order, as scripts and people read them: the cloth of the example under a
// guarded rule, where one run passes only conditionally.

#include <gtest/gtest.h>

#include <cmath>
#include <set>

#include "support/program.hpp"

namespace {

using namespace ebbtide::testing_support;
using nlohmann::json;

class GuardedCloth : public ::testing::Test {
  protected:
    void SetUp() override {
        std::filesystem::copy(EBBTIDE_SOURCE_DIR "/examples/halyard-cloth", order(),
                              std::filesystem::copy_options::recursive);
        std::string text = bytes_of(order() + "/order.toml");
        const std::string simple = "kind = \"simple\"";
        const std::size_t at = text.find(simple);
        ASSERT_NE(at, std::string::npos);
        write_bytes(order() + "/order.toml",
                    text.replace(at, simple.size(), "kind = \"guarded\"\nguard_times_U = 0.5"));
    }
    [[nodiscard]] std::string order() const { return folder_ / "order"; }
    TemporaryFolder folder_;
};

/// Of the document: squares of all lines, and 2 r u_i u_j with signs for correlated ones.
double root_of_sum(const json& budget) {
    double variance = 0;
    for (const json& line : budget) {
        const double signed_s = line["u"].get<double>() * line["sensitivity"].get<double>();
        variance += signed_s * signed_s;
        for (const json& other : budget)
            if (other["source"] == line["correlated_with"])
                variance += 2 * line["correlation"].get<double>() * signed_s * other["u"].get<double>() *
                            other["sensitivity"].get<double>();
    }
    return std::sqrt(variance);
}

TEST_F(GuardedCloth, GivesBudgetsThatMakeTheUncertaintyOfEveryRunAndMean) {
    const json document = run({"judge", order(), "--json"}).json();
    int seen = 0, air = 0;
    for (const json& judged : document["runs"])
        for (const json& level : judged["figures"]["levels"]) {
            EXPECT_NEAR(root_of_sum(level["budget"]) / level["u_decay_s"].get<double>(), 1, 1e-9);
            ++seen;
        }
    for (const json& requirement : document["requirements"])
        for (const json& finding : requirement["findings"]) {
            EXPECT_NEAR(root_of_sum(finding["budget"]) / finding["u_s"].get<double>(), 1, 1e-9);
            for (const json& line : finding["budget"])
                air += line["source"] == "relative humidity" && line["scope"] == "bench";
            ++seen;
        }
    EXPECT_EQ(seen, 25 + 4 + 24);
    EXPECT_EQ(air, 4 + 24) << "every result holds the share of the air";
}

TEST_F(GuardedCloth, SaysWhatWouldHelpTheConditionalResultOnly) {
    const json document = run({"judge", order(), "--json"}).json();
    ASSERT_EQ(document["statement"], "conditional pass");
    int conditional = 0;
    for (const json& requirement : document["requirements"])
        for (const json& finding : requirement["findings"]) {
            if (finding["outcome"] != "conditional pass") {
                EXPECT_TRUE(finding["advice"].empty());
                EXPECT_TRUE(finding["relief"].is_null());
                continue;
            }
            ++conditional;
            EXPECT_EQ(finding["advice"].size(), finding["budget"].size());
            EXPECT_EQ(finding["advice"][0]["source"], "relative humidity");
            EXPECT_EQ(finding["advice"][0]["outcome"], "pass");
            EXPECT_LT(finding["advice"][0]["expanded_u_s"], finding["relief"]["expanded_u_s"]);
            std::set<std::string> keys;
            for (const auto& [key, value] : finding["advice"][0].items()) keys.insert(key);
            EXPECT_EQ(keys, (std::set<std::string>{"source", "expanded_u_s", "outcome"}));
        }
    EXPECT_EQ(conditional, 1);
}

TEST_F(GuardedCloth, TellsAPersonWhatWouldHelp) {
    const Ran ran = run({"judge", order()});
    EXPECT_EQ(ran.exit, 11) << ran.err;
    EXPECT_NE(ran.out.find("what would help F6 back dry-2 + 1"), std::string::npos) << ran.out;
    EXPECT_NE(ran.out.find("Halving the uncertainty of relative humidity (now 0.80 % RH)"), std::string::npos)
        << ran.out;
}

}  // namespace
