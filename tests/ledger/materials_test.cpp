// Materials with how much there is of them, as the statements stand.

#include "ledger/materials.hpp"

#include "ledger/invented_ledger.hpp"

namespace {

using namespace ebbtide;
using namespace ebbtide::testing_support;

using Materials = InventedLedger;

ledger::Draft report_of(const std::string& order) {
    return {ledger::Kind::report, order, R"({"order":")" + order + "\"}", "", "", false};
}

TEST_F(Materials, AreThoseOfStatementsThatStand) {
    EXPECT_TRUE(got(ledger::materials(database_)).empty());
    InventedOrder first, second, third;
    second.id = "TP-2", second.statement = "fail", second.to = "2027-01-31";
    third.id = "TP-3", third.material = "Deck foam", third.to = "2025-06-30";
    for (const InventedOrder* order : {&first, &second, &third}) {
        got(put(run_of(order->id, "1")));
        got(put(run_of(order->id, "2")));
        got(put(statement_of(*order)));
    }
    got(put(report_of("TP-2")));
    ledger::Draft again = report_of("TP-2");
    again.body = R"({"order":"TP-2","sha256":"x"})", again.who = "I. M.", again.why = "typing error";
    got(put(again));
    got(put(transcript_of("spring.csv", 2, 0.38)));

    const auto materials = got(ledger::materials(database_));
    ASSERT_EQ(materials.size(), 2u);
    EXPECT_EQ(materials[0].material, "Deck foam");
    EXPECT_EQ(materials[0].orders, 1);
    EXPECT_EQ(materials[0].reports, 0);
    EXPECT_EQ(materials[1].material, "Halyard cloth");
    EXPECT_EQ(materials[1].orders, 2);
    EXPECT_EQ(materials[1].failed, 1);
    EXPECT_EQ(materials[1].reports, 1) << "two revisions are one report";
    EXPECT_EQ(materials[1].times, 4) << "what was copied by hand is not among them";
    EXPECT_EQ(materials[1].first_tested, "2026-09-18");
    EXPECT_EQ(materials[1].last_tested, "2027-01-31");

    got(put({ledger::Kind::report, "TP-2", "null", "I. M.", "withdrawn", true}));
    got(put({ledger::Kind::statement, "TP-3", "null", "I. M.", "withdrawn", true}));
    const auto left = got(ledger::materials(database_));
    ASSERT_EQ(left.size(), 1u);
    EXPECT_EQ(left[0].reports, 0);
}

TEST_F(Materials, AreCountedOnceAnOrderWhateverItsItems) {
    ledger::Draft draft = statement_of({});
    auto body = nlohmann::json::parse(draft.body);
    body["items"].push_back({{"id", "C2"}, {"description", "Halyard cloth"}, {"lot", "Roll 8"}});
    draft.body = ledger::canonical_line(body).value();
    got(put(draft));
    EXPECT_EQ(got(ledger::materials(database_)).at(0).orders, 1);
}

}  // namespace
