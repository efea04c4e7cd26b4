#include <gtest/gtest.h>

#include "paperwork/documents.hpp"

namespace ebbtide::paperwork {
namespace {

using documents::changed;
using documents::refused;

Result<plan::Specification> with(std::string_view from, std::string_view to) {
    return parse_specification(changed(documents::specification, from, to), "s.toml");
}

}  // namespace

TEST(SpecificationFile, HandsOnEveryValue) {
    const auto specification = parse_specification(documents::specification, "s.toml");
    ASSERT_TRUE(specification.ok()) << specification.error().text();
    EXPECT_EQ(specification->id, "short");
    EXPECT_EQ(specification->edition, "2");
    EXPECT_EQ(specification->apparatus, plan::Apparatus::clamp_discharge);
    EXPECT_EQ(specification->remarks, (std::vector<std::string>{"One", "Two"}));
    ASSERT_EQ(specification->demands.size(), 1u);
    const plan::Demand& demand = specification->demands[0];
    EXPECT_EQ(demand.id, "d1");
    ASSERT_EQ(demand.any_of.size(), 2u);
    EXPECT_EQ(sentence(demand.any_of[0]), "mean per specimen and polarity of t(10 %) ≤ 2 s");
    EXPECT_EQ(demand.any_of[0].clause, "house rule");
    EXPECT_EQ(sentence(demand.any_of[1]), "each run's t(1/e) < 0.5 s");
}

TEST(SpecificationFile, LessAndLessOrEqualStayApartAndNothingElseIsTaken) {
    EXPECT_EQ(with("\"<=\"", "\"<\"")->demands[0].any_of[0].comparison, plan::Comparison::less);
    EXPECT_TRUE(refused(with("\"<=\"", "\"=<\""), "one of '<', '<='"));
    EXPECT_TRUE(refused(with("\"<=\"", "\">\""), "one of '<', '<='"));
}

TEST(SpecificationFile, AMeanSaysOverWhichRunsItIsTaken) {
    EXPECT_TRUE(refused(with("group_by = [\"specimen\", \"polarity\"]\n", ""),
                        "'demand.any_of.group_by' is missing"));
    EXPECT_TRUE(with("[\"specimen\", \"polarity\"]", "[]").ok());
    EXPECT_TRUE(refused(with("[\"specimen\", \"polarity\"]", "[\"roll\"]"), "cannot be grouped by 'roll'"));
    EXPECT_TRUE(refused(with("[\"specimen\", \"polarity\"]", "[\"face\", \"face\"]"), "names 'face' twice"));
    EXPECT_TRUE(refused(with("statistic = \"each_run\"", "statistic = \"each_run\"\ngroup_by = []"),
                        "has no meaning for each_run"));
}

TEST(SpecificationFile, AMisspeltStatisticIsOneProblem) {
    const auto specification = with("statistic = \"mean\"", "statistic = \"average\"");
    ASSERT_FALSE(specification.ok());
    EXPECT_EQ(specification.error().text().find('\n'), std::string::npos) << specification.error().text();
}

TEST(SpecificationFile, EveryRequirementIsNamedOnceAndHasItsClauseAndLimit) {
    EXPECT_TRUE(refused(with("id = \"r2\"", "id = \"r1\""), "is 'r1', which stands above already"));
    EXPECT_TRUE(refused(with("clause = \"from memory\"\n", ""), "'demand.any_of.clause' is missing"));
    EXPECT_TRUE(refused(with("limit_s = 2", "limit_s = 0"), "'demand.any_of.limit_s' is 0"));
    EXPECT_TRUE(refused(with("level = \"10 %\"", "level = 0"), "no exponential ever reaches"));
}

TEST(SpecificationFile, WithoutADemandThereIsNothingToJudge) {
    const std::string text = documents::specification.substr(0, documents::specification.find("[[demand]]"));
    EXPECT_TRUE(refused(parse_specification(text, "s.toml"), "'demand' is missing"));
    EXPECT_TRUE(refused(parse_specification(changed(text, "remarks", "demand = []\nremarks"), "s.toml"),
                        "at least one table"));
    const std::string bare = text + "[[demand]]\nid = \"d\"\n";
    EXPECT_TRUE(refused(parse_specification(bare, "s.toml"), "'demand.any_of' is missing"));
}

}  // namespace ebbtide::paperwork
