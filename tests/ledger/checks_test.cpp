// Bench checks: which there are, which orders rest on them, which stood about a run.

#include "ledger/checks.hpp"

#include "ledger/invented_ledger.hpp"

namespace {

using namespace ebbtide;
using namespace ebbtide::testing_support;

class Checks : public InventedLedger {
  protected:
    [[nodiscard]] std::vector<std::string> found(const ledger::Query& query) {
        std::vector<std::string> ids;
        for (const ledger::Entry& entry : got(ledger::find_checks(database_, query))) ids.push_back(entry.id);
        return ids;
    }
    /// before, override, after of a moment on bench B1, revision A.
    [[nodiscard]] std::vector<std::string> around(const std::string& at, const std::string& bench = "B1",
                                                  const std::string& revision = "A") {
        const auto checks = got(ledger::checks_around(database_, bench, revision, parse_instant(at).value()));
        std::vector<std::string> ids;
        for (const auto* one : {&checks.before, &checks.override_, &checks.after})
            ids.push_back(*one ? (*one)->id : "");
        return ids;
    }
};

using Ids = std::vector<std::string>;

TEST_F(Checks, AreFoundByIdBenchAndDayTheLastOnesFirst) {
    got(put(check_of("opening", "2026-09-15T06:20:00Z")));
    got(put(check_of("closing", "2026-09-15T17:00:00Z")));
    got(put(check_of("opening", "2026-09-16T23:59:59.5Z", "B12")));
    const std::string first = "B1/opening-2026-09-15T06:20:00Z", last = "B1/closing-2026-09-15T17:00:00Z",
                      other = "B12/opening-2026-09-16T23:59:59.5Z";
    EXPECT_EQ(found({}), (Ids{other, last, first}));
    ledger::Query query;
    query.check = "CLOSING";
    EXPECT_EQ(found(query), Ids{last});
    query = {};
    query.bench = "b12";
    EXPECT_EQ(found(query), Ids{other});
    query = {};
    query.from = query.to = Date{2026, 9, 16};
    EXPECT_EQ(found(query), Ids{other}) << "half a second before midnight is still that day";
    query.from = query.to = Date{2026, 9, 15};
    EXPECT_EQ(found(query), (Ids{last, first}));
    query.material = "cloth";
    EXPECT_FALSE(ledger::find_checks(database_, query).ok()) << "a check has no material";
}

TEST_F(Checks, NameTheOrdersThatRestOnThem) {
    InventedOrder one, two;
    one.checks = {"opening-2026-09-15T062000Z", "closing-2026-09-15T170000Z"};
    two.id = "TP-2";
    two.checks = {"opening-2026-09-16T062000Z"};
    got(put(statement_of(one)));
    got(put(statement_of(two)));
    const auto orders = [&](const std::string& check) {
        ledger::Query query;
        query.check = check;
        Ids ids;
        for (const auto& order : got(ledger::find(database_, query))) ids.push_back(order.order);
        return ids;
    };
    EXPECT_EQ(orders("B1/opening-2026-09-15"), Ids{"TP-1"});
    EXPECT_EQ(orders("OPENING").size(), 2u);
    EXPECT_TRUE(orders("override").empty());
    // Corrected, it rests on what its newest revision says.
    two.checks = {"override-2026-09-16T062000Z"};
    ledger::Draft amended = statement_of(two);
    amended.who = "I. M.", amended.why = "the check was of another day";
    got(put(amended));
    EXPECT_EQ(orders("override"), Ids{"TP-2"});
    EXPECT_EQ(orders("opening"), Ids{"TP-1"});
    EXPECT_EQ(damages(), "");
    got(database_.script("DELETE FROM found_order_check"));
    EXPECT_NE(damages().find("--rebuild-index"), std::string::npos);
    got(ledger::rebuild_index(database_));
    EXPECT_EQ(damages(), "");
}

TEST_F(Checks, StandOnEitherSideOfARun) {
    EXPECT_EQ(around("2026-09-15T10:00:00Z"), (Ids{"", "", ""}));
    const std::string opening = got(put(check_of("opening", "2026-09-15T06:20:00Z"))).id;
    const std::string leave = got(put(check_of("override", "2026-09-15T09:00:00Z"))).id;
    const std::string closing = got(put(check_of("closing", "2026-09-15T17:00:00Z"))).id;
    const std::string next = got(put(check_of("opening", "2026-09-16T06:20:00.25Z"))).id;
    got(put(check_of("opening", "2026-09-15T09:30:00Z", "B2")));
    EXPECT_EQ(around("2026-09-15T06:19:59Z"), (Ids{"", "", opening}));
    EXPECT_EQ(around("2026-09-15T08:00:00Z"), (Ids{opening, "", closing}));
    EXPECT_EQ(around("2026-09-15T10:00:00Z"), (Ids{opening, leave, closing}));
    EXPECT_EQ(around("2026-09-15T18:00:00Z"), (Ids{closing, "", next})) << "an override ends with its check";
    EXPECT_EQ(around("2026-09-16T06:20:00Z"), (Ids{closing, "", next})) << "a quarter of a second before it";
    EXPECT_EQ(around("2026-09-17T06:20:00Z"), (Ids{next, "", ""}));
    EXPECT_EQ(around("2026-09-15T10:00:00Z", "B1", "B"), (Ids{"", "", ""})) << "a changed bench is another";
    // A withdrawn one stands behind nothing.
    got(put({ledger::Kind::bench_check, opening, "null", "I. M.", "plate was warped", true}));
    EXPECT_EQ(around("2026-09-15T08:00:00Z"), (Ids{"", "", closing}));
    EXPECT_EQ(damages(), "");
}

TEST_F(Checks, SayWhenTheyEndedAndOnWhichBench) {
    for (const char* body :
         {"{}", "[]", R"({"bench":"B1","bench_revision":"A","kind":"opening","outcome":"good"})",
          R"({"bench":"B1","bench_revision":"A","ended":"noon","kind":"opening","outcome":"good"})"})
        EXPECT_FALSE(put({ledger::Kind::bench_check, "B1/opening", body, "", "", false}).ok()) << body;
    EXPECT_EQ(got(ledger::head(database_)).number, 0);
}

}  // namespace
