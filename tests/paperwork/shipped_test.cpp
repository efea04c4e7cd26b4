// The methods and specifications that come with the program.

#include <gtest/gtest.h>

#include <algorithm>

#include "paperwork/paperwork.hpp"
#include "paperwork/toml_tree.hpp"

namespace ebbtide::paperwork {
namespace {

std::string shipped_text(const std::string& id) {
    for (const Shipped& file : shipped())
        if (file.id == id) return file.toml;
    ADD_FAILURE() << "not shipped: " << id;
    return "";
}

/// Names of all values under a table, dotted.
void value_names(const Node& table, const std::string& path, std::vector<std::string>& out) {
    for (std::size_t i = 0; i < table.keys.size(); ++i) {
        const std::string name = path + table.keys[i];
        if (table.elements[i].kind == Node::Kind::table)
            value_names(table.elements[i], name + '.', out);
        else
            out.push_back(name);
    }
}

bool has_source(std::string name, const std::map<std::string, std::string>& sources) {
    for (;;) {
        if (sources.contains(name)) return true;
        const std::size_t point = name.rfind('.');
        if (point == std::string::npos) return false;
        name.resize(point);
    }
}

}  // namespace

TEST(Shipped, AllFilesAreRead) {
    ASSERT_GE(shipped().size(), 4u);
    for (const Shipped& file : shipped()) {
        if (file.kind == Shipped::Kind::method) {
            const auto method = parse_method(file.toml, file.id);
            ASSERT_TRUE(method.ok()) << method.error().text();
            EXPECT_EQ(method->id, file.id);
        } else {
            const auto specification = parse_specification(file.toml, file.id);
            ASSERT_TRUE(specification.ok()) << specification.error().text();
            EXPECT_EQ(specification->id, file.id);
        }
    }
}

TEST(Shipped, EveryValueOfAMethodNamesItsSource) {
    for (const Shipped& file : shipped()) {
        if (file.kind != Shipped::Kind::method) continue;
        const auto tree = parse_tree(file.toml, file.id);
        const auto method = parse_method(file.toml, file.id);
        ASSERT_TRUE(tree.ok() && method.ok());
        std::vector<std::string> names;
        for (const char* part : {"conditioning", "charging", "initial_voltage", "sensitivity", "limits",
                                 "decay", "runs", "consequences"})
            if (const Node* table = tree->find(part)) value_names(*table, part + std::string("."), names);
        EXPECT_GE(names.size(), 10u);
        for (const std::string& name : names)
            EXPECT_TRUE(has_source(name, method->value_sources))
                << file.id << " gives no source for " << name;
    }
}

TEST(Shipped, EveryTableOfAMethodIsCoveredByTheSourceTest) {
    for (const Shipped& file : shipped()) {
        if (file.kind != Shipped::Kind::method) continue;
        const auto tree = parse_tree(file.toml, file.id);
        ASSERT_TRUE(tree.ok());
        for (std::size_t i = 0; i < tree->keys.size(); ++i) {
            if (tree->elements[i].kind != Node::Kind::table) continue;
            const std::vector<std::string> parts{"conditioning", "charging", "initial_voltage",
                                                 "sensitivity",  "limits",   "decay",
                                                 "runs",         "sources",  "consequences"};
            EXPECT_NE(std::ranges::find(parts, tree->keys[i]), parts.end()) << tree->keys[i];
        }
    }
}

TEST(Shipped, EveryRequirementNamesItsClauseAndEveryFileSaysThatItReplacesNoDocument) {
    for (const Shipped& file : shipped()) {
        EXPECT_NE(file.toml.find("replace"), std::string::npos) << file.id;
        if (file.kind != Shipped::Kind::specification) continue;
        const auto specification = parse_specification(file.toml, file.id);
        ASSERT_TRUE(specification.ok());
        for (const plan::Demand& demand : specification->demands)
            for (const plan::Requirement& requirement : demand.any_of)
                EXPECT_FALSE(requirement.clause.empty());
    }
}

// Figures of MIL-DTL-44031E as published at textilefabrics.emilspec.com/MIL-DTL-44031, page18.html.
TEST(Shipped, ClothMethodCarriesTheFiguresOfItsClauses) {
    const auto method = parse_method(shipped_text("mil-dtl-44031e-method"), "shipped");
    ASSERT_TRUE(method.ok()) << method.error().text();
    EXPECT_EQ(method->charging.voltage_V->nominal, 5000);                  // 4.5.4.4.3
    EXPECT_EQ(method->charging.hold_s, 20);                                // 4.5.4.4.3
    EXPECT_EQ(method->charging.minimum_initial_V, 4000);                   // 4.5.4.4.4
    EXPECT_EQ(method->decay.residual_limit_V, 500);                        // 4.5.4.4.2
    EXPECT_EQ(method->decay.basis, plan::InitialBasis::charging_maximum);  // 4.5.4.4.3
    ASSERT_EQ(method->decay.levels.size(), 1u);
    EXPECT_EQ(method->decay.levels[0].value, 0.1);                                 // 4.5.4.4.2
    EXPECT_EQ(method->faces, (std::vector<std::string>{"front", "back"}));         // 4.5.4.4.6
    EXPECT_EQ(method->directions, (std::vector<std::string>{"warp", "filling"}));  // 3.10
    EXPECT_TRUE(method->decay.basis_bandwidth_s.has_value());
    EXPECT_EQ(method->consequences.at(plan::FlagCode::charge_not_accepted), plan::Consequence::fail_specimen);
}

// The same document, page10.html (3.10) and page18.html (4.5.4.4.5).
TEST(Shipped, ClothSpecificationHoldsBothClausesAndSaysThatTheyDisagree) {
    const auto specification = parse_specification(shipped_text("mil-dtl-44031e-specification"), "shipped");
    ASSERT_TRUE(specification.ok()) << specification.error().text();
    ASSERT_EQ(specification->demands.size(), 2u);
    const plan::Requirement& average = specification->demands[0].any_of.at(0);
    EXPECT_EQ(average.clause, "3.10");
    EXPECT_EQ(average.comparison, plan::Comparison::less_or_equal);
    EXPECT_EQ(average.limit_s, 0.5);
    EXPECT_EQ(average.statistic, plan::Statistic::mean);
    EXPECT_EQ(average.group_by, (std::vector{plan::GroupKey::direction, plan::GroupKey::state}));
    const plan::Requirement& each = specification->demands[1].any_of.at(0);
    EXPECT_EQ(each.clause, "4.5.4.4.5");
    EXPECT_EQ(each.comparison, plan::Comparison::less);
    EXPECT_EQ(each.limit_s, 0.5);
    EXPECT_EQ(each.statistic, plan::Statistic::each_run);
    ASSERT_FALSE(specification->remarks.empty());
    EXPECT_NE(specification->remarks[0].find("disagree"), std::string::npos);
}

}  // namespace ebbtide::paperwork
