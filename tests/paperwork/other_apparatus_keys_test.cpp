// Keys of methods, specifications and orders that are not about clamps and one limit.

#include <gtest/gtest.h>

#include "paperwork/documents.hpp"
#include "paperwork/paperwork.hpp"

namespace ebbtide::paperwork {

using documents::changed;
using documents::refused;

namespace {

const std::string plate =
    changed(documents::method, "levels = [\"50 %\", 0.1, \"500 V\", 0]\nzero_floor = \"50 V\"",
            "levels = [\"500 V\"]\nfrom = \"1 kV\"");
const std::string induction =
    changed(changed(documents::method, "basis = \"hold_mean\"\nwindow_s = 0.5\nguard_s = 0.05",
                    "basis = \"without_specimen\"\nreference_run = true"),
            "extrapolation = true", "extrapolation = true\nclock = \"field_step\"");

std::string with_requirement(const std::string& keys) {
    return changed(documents::specification,
                   "level = \"1/e\"\nstatistic = \"each_run\"\ncomparison = \"<\"\nlimit_s = 0.5", keys);
}
const std::string shielding =
    with_requirement("quantity = \"shielding_factor\"\ncomparison = \">\"\nlimit = 0.2");
std::string classes(const std::string& rows) {
    return with_requirement("level = \"50 %\"\nstatistic = \"each_run\"\ncomparison = \"<=\"\nclasses = " +
                            rows);
}

std::string with_supplied(const std::string& keys) {
    return documents::order + "\n[[supplied]]\n" + keys;
}
const std::string result = "quantity = \"q\"\nvalue = -0.3\nu = 0.02\nsource = \"another laboratory\"\n";

std::string with_run(const std::string& run) {
    return changed(documents::order,
                   "  { specimen = \"S1\", face = \"front\", conditions = \"dry\", polarity = \"-\" },", run);
}

}  // namespace

TEST(Apparatus, IsOneOfAListAndASlipIsAnsweredWithTheNearest) {
    for (const plan::Apparatus one : plan::every_apparatus) {
        const std::string line = "apparatus = \"" + std::string(plan::name_of(one)) + '"';
        const auto method =
            parse_method(changed(documents::method, "apparatus = \"clamp_discharge\"", line), "f");
        ASSERT_TRUE(method.ok()) << method.error().text();
        EXPECT_EQ(method->apparatus, one);
        const auto bench =
            parse_bench(changed(documents::bench, "apparatus = \"clamp_discharge\"", line), "f");
        EXPECT_EQ(bench->apparatus, one);
    }
    const auto slip = [](const std::string& document) {
        return changed(document, "\"clamp_discharge\"", "\"charge_plate\"");
    };
    EXPECT_TRUE(refused(parse_method(slip(documents::method), "f"), "Did you mean 'charged_plate'?"));
    EXPECT_TRUE(refused(parse_specification(slip(documents::specification), "f"), "charged_plate"));
    EXPECT_TRUE(refused(parse_bench(slip(documents::bench), "f"), "charged_plate"));
    EXPECT_TRUE(refused(parse_bench(changed(documents::bench, "clamp_discharge", "qqqqqqqqqqq"), "f"),
                        "induction_electrode"));
}

TEST(StartLevel, IsReadAndMustLieAboveEveryLevel) {
    const auto method = parse_method(plate, "f");
    ASSERT_TRUE(method.ok()) << method.error().text();
    EXPECT_EQ(method->decay.from->value, 1000);
    EXPECT_TRUE(refused(parse_method(changed(plate, "\"1 kV\"", "\"500 V\""), "f"), "does not lie below"));
    EXPECT_TRUE(refused(parse_method(changed(plate, "\"1 kV\"", "0"), "f"), "decay.from"));
    EXPECT_FALSE(parse_method(documents::method, "f")->decay.from.has_value());
}

TEST(FieldStep, AndTheRunWithoutSpecimenAreRead) {
    const auto method = parse_method(induction, "f");
    ASSERT_TRUE(method.ok()) << method.error().text();
    EXPECT_EQ(method->decay.clock, plan::DecayRules::Clock::field_step);
    EXPECT_TRUE(method->reference_run);
    EXPECT_FALSE(method->decay.stated_initial_V.has_value());
    EXPECT_TRUE(refused(parse_method(changed(induction, "\"field_step\"", "\"step\""), "f"), "field_step"));
    EXPECT_TRUE(refused(
        parse_method(changed(induction, "reference_run = true", "reference_run = true\nstated_V = 900"), "f"),
        "reference run"));
    EXPECT_TRUE(refused(parse_method(changed(induction, "reference_run = true", ""), "f"), "stated_V"));
    EXPECT_TRUE(refused(
        parse_method(changed(documents::method, "guard_s = 0.05", "guard_s = 0.05\nreference_run = true"),
                     "f"),
        "no meaning with this basis"));
}

TEST(Specimens, AreCountedFromOne) {
    EXPECT_EQ(parse_method(documents::method, "f")->specimens, 1);
    const auto more = changed(documents::method, "replicates = 3", "replicates = 3\nspecimens = 5");
    EXPECT_EQ(parse_method(more, "f")->specimens, 5);
    EXPECT_TRUE(refused(parse_method(changed(more, "specimens = 5", "specimens = 0"), "f"), "specimens"));
}

TEST(SuppliedQuantity, IsARequirementWithKeysOfItsOwn) {
    const auto specification = parse_specification(shielding, "f");
    ASSERT_TRUE(specification.ok()) << specification.error().text();
    const plan::Requirement& asked = specification->demands[0].any_of[1];
    EXPECT_EQ(asked.supplied->quantity, "shielding_factor");
    EXPECT_EQ(asked.supplied->limit, 0.2);
    EXPECT_EQ(asked.comparison, plan::Comparison::greater);
    EXPECT_EQ(plan::sentence(asked), "shielding_factor > 0.2");
    EXPECT_TRUE(refused(
        parse_specification(changed(shielding, "limit = 0.2", "limit = 0.2\nlimit_s = 4"), "f"), "limit_s"));
    EXPECT_TRUE(refused(parse_specification(changed(shielding, "\nlimit = 0.2", ""), "f"), "limit"));
    // A decay time is limited from above.
    EXPECT_TRUE(
        refused(parse_specification(changed(documents::specification, "\"<=\"", "\">=\""), "f"), "'<='"));
}

TEST(Classes, AscendAndTheLastOneIsTheLimit) {
    const auto specification =
        parse_specification(classes("[{ name = \"A\", limit_s = 2 }, { name = \"B\", limit_s = 5 }]"), "f");
    ASSERT_TRUE(specification.ok()) << specification.error().text();
    const plan::Requirement& asked = specification->demands[0].any_of[1];
    EXPECT_EQ(asked.limit_s, 5);
    ASSERT_EQ(asked.grades.size(), 2u);
    EXPECT_EQ(asked.grades[0].name, "A");
    EXPECT_TRUE(refused(
        parse_specification(classes("[{ name = \"A\", limit_s = 2 }, { name = \"B\", limit_s = 2 }]"), "f"),
        "not above"));
    EXPECT_TRUE(refused(
        parse_specification(classes("[{ name = \"A\", limit_s = 2 }, { name = \"A\", limit_s = 3 }]"), "f"),
        "'A'"));
    EXPECT_TRUE(
        refused(parse_specification(classes("[{ name = \"A\", limit_s = 2 }]\nlimit_s = 3"), "f"), "3 s"));
}

TEST(Supplied, ResultsAreReadWithTheirUncertaintyAndSource) {
    const auto order = parse_order(with_supplied("specimen = \"S1\"\n" + result), "f");
    ASSERT_TRUE(order.ok()) << order.error().text();
    ASSERT_EQ(order->supplied.size(), 1u);
    EXPECT_EQ(order->supplied[0].quantity, "q");
    EXPECT_EQ(order->supplied[0].specimen, "S1");
    EXPECT_EQ(order->supplied[0].value, -0.3);
    EXPECT_EQ(order->supplied[0].u, 0.02);
    EXPECT_TRUE(refused(parse_order(with_supplied("specimen = \"S2\"\n" + result), "f"), "S2"));
    EXPECT_TRUE(refused(parse_order(with_supplied(result + "\n[[supplied]]\n" + result), "f"), "twice"));
    EXPECT_TRUE(refused(parse_order(with_supplied(changed(result, "u = 0.02\n", "")), "f"), "'supplied.u'"));
}

TEST(RunWithoutSpecimen, HasNeitherSpecimenNorFace) {
    const auto order =
        parse_order(with_run("{ without_specimen = true, conditions = \"dry\", polarity = \"-\" },"), "f");
    ASSERT_TRUE(order.ok()) << order.error().text();
    const plan::PlannedRun& run = order->recordings[0].runs[1];
    EXPECT_TRUE(run.without_specimen);
    EXPECT_EQ(run.key.label(), "without specimen dry - 1");
    EXPECT_TRUE(
        refused(parse_order(with_run("{ without_specimen = true, specimen = \"S1\", conditions = \"dry\", "
                                     "polarity = \"-\" },"),
                            "f"),
                "without specimen"));
    EXPECT_TRUE(
        refused(parse_order(with_run("{ conditions = \"dry\", polarity = \"-\" },"), "f"), "specimen"));
}

}  // namespace ebbtide::paperwork
