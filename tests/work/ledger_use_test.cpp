// Withdrawing, tracing and transcribing in a ledger of invented orders, where the program is not asked.

#include <gtest/gtest.h>

#include <nlohmann/json.hpp>

#include "ledger/canonical.hpp"
#include "ledger/migrations.hpp"
#include "work/ledger_figure.hpp"
#include "work/ledger_withdraw.hpp"

namespace {

using namespace ebbtide;
using ledger::Kind;
using nlohmann::json;
using work::place_of_run;

const std::vector<work::NamedRun> runs{{"TP-1/3f2a77", "W1 front dry + 1"},
                                       {"TP-1/3f2b00", "W1 back dry + 1"},
                                       {"TP-1/90aa11", "W1 back dry + 1"}};

TEST(NamesOfRuns, AreIdsBeginningsOfThemAndPlacesInThePlan) {
    EXPECT_EQ(*place_of_run(runs, "TP-1", "90aa11"), 2u);
    EXPECT_EQ(*place_of_run(runs, "TP-1", "3f2a"), 0u);
    EXPECT_EQ(*place_of_run(runs, "TP-1", "W1 front dry + 1"), 0u);
    EXPECT_FALSE(place_of_run(runs, "TP-1", "W2 front dry + 1")->has_value());
    EXPECT_FALSE(place_of_run(runs, "TP-1", "3f2")->has_value()) << "three characters name nothing";
}

TEST(NamesOfRuns, AreNeverGuessedAmongSeveral) {
    const auto both = place_of_run(runs, "TP-1", "W1 back dry + 1");
    ASSERT_FALSE(both.ok());
    for (const char* id : {"3f2b00", "90aa11"})
        EXPECT_NE(both.error().text().find(id), std::string::npos) << both.error().text();
}

class WithdrawnOrders : public ::testing::Test {
  protected:
    void put(Kind kind, const std::string& id, const json& body) {
        auto writing = ledger::Writing::begin(*ledger_);
        ASSERT_TRUE(writing.ok());
        const auto entry =
            ledger::put_entry(*ledger_, {kind, id, ledger::canonical_line(body).value(), "", "", false}, at_);
        ASSERT_TRUE(entry.ok()) << entry.error().text();
        ASSERT_TRUE(writing->commit().ok());
    }
    void add(const std::string& order) {
        const json cited = {{"id", "house"}, {"edition", "1"}};
        put(Kind::run, order + "/1",
            {{"order", order},
             {"item", ""},
             {"run", "1"},
             {"specimen", "W1"},
             {"face", ""},
             {"conditions", "dry"},
             {"polarity", "+"},
             {"replicate", 1},
             {"counts", true},
             {"label", "W1 dry + 1"},
             {"figures", nullptr}});
        put(Kind::statement, order,
            {{"order", order},
             {"order_revision", 1},
             {"customer", "Ropewalk Cloth Mill"},
             {"items", json::array()},
             {"method", cited},
             {"specification", cited},
             {"bench", nullptr},
             {"statement", "void"},
             {"tested_from", "2026-09-15"},
             {"tested_to", "2026-09-18"},
             {"issued", nullptr},
             {"runs", {order + "/1"}}});
    }
    void SetUp() override {
        ledger_ = ledger::Database::in_memory().value();
        ASSERT_TRUE(ledger::migrate(*ledger_, ledger::newest_schema).ok());
    }
    [[nodiscard]] std::size_t standing(const std::string& order) {
        return ledger::standing(*ledger_, Kind::run, order + "/").value().size();
    }
    std::optional<ledger::Database> ledger_;
    Instant at_ = parse_instant("2026-11-25T12:00:00Z").value();
};

// "TP-1/7" is an order of its own, and its runs begin with "TP-1/" too.
TEST_F(WithdrawnOrders, LeaveOrdersAloneWhoseIdBeginsAlike) {
    add("TP-1");
    add("TP-1/7");
    const auto done = work::withdraw(*ledger_, {"TP-1", "", "IM", "wrong lot"}, at_);
    ASSERT_TRUE(done.ok()) << done.error().text();
    EXPECT_EQ(done->entries, (std::vector<std::string>{"statement TP-1", "run TP-1/1"}));
    EXPECT_EQ(standing("TP-1/7"), 1u);
    const auto revisions = work::order_revisions(*ledger_, "TP-1").value();
    EXPECT_EQ(revisions.size(), 4u) << "statement and run, written and withdrawn";
    EXPECT_TRUE(work::order_revisions(*ledger_, "TP-1/7").ok());
}

TEST_F(WithdrawnOrders, AreWithdrawnByNobodyWithoutNameAndReason) {
    add("TP-1");
    EXPECT_FALSE(work::withdraw(*ledger_, {"TP-1", "", "", "wrong lot"}, at_).ok());
    EXPECT_FALSE(work::withdraw(*ledger_, {"TP-1", "", "IM", ""}, at_).ok());
    EXPECT_FALSE(work::withdraw(*ledger_, {"TP-2", "", "IM", "wrong lot"}, at_).ok()) << "none of that id";
    EXPECT_EQ(standing("TP-1"), 1u);
}

}  // namespace
