// Terms are written into a record and read back, so that a report made under them can be worked out again.

#include <gtest/gtest.h>

#include "record/json.hpp"

namespace {

using namespace ebbtide;
using nlohmann::json;

TEST(TermsInARecord, ComeBackAsTheyWere) {
    EXPECT_TRUE(record::json_of(plan::Terms{}).is_null());
    EXPECT_FALSE(record::terms_of(json()).value().any());
    for (const char* rule : {"simple", "guarded:1U", "guarded:0.83U", "guarded:0.02s"}) {
        plan::Terms terms;
        terms.specification = "terms/other.toml";
        terms.levels = plan::parse_levels_asked("1/e,1 %,500 V").value();
        terms.decision_rule = plan::parse_rule(rule).value();
        const plan::Terms back = record::terms_of(record::json_of(terms)).value();
        EXPECT_EQ(back.specification, terms.specification);
        EXPECT_EQ(back.levels, terms.levels);
        ASSERT_TRUE(back.decision_rule);
        EXPECT_EQ(plan::text_of(*back.decision_rule), rule);
    }
    plan::Terms levels_only;
    levels_only.levels = plan::parse_levels_asked("1 %").value();
    EXPECT_FALSE(record::terms_of(record::json_of(levels_only)).value().decision_rule);
}

TEST(TermsInARecord, OfAnotherShapeAreRefused) {
    for (const char* text : {"5", "[]", R"({"specification": 5})", R"({"levels": "1 %"})",
                             R"({"levels": [0.1]})", R"({"levels": ["none"]})", R"({"levels": ["0"]})",
                             R"({"decision_rule": "often"})", R"({"decision_rule": {}})"}) {
        const auto terms = record::terms_of(json::parse(text));
        ASSERT_FALSE(terms.ok()) << text;
        EXPECT_FALSE(terms.error().remedy.empty());
    }
}

}  // namespace
