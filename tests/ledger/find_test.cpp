// Orders are found by any combination of what is asked.

#include "ledger/find.hpp"

#include <map>
#include <random>

#include "ledger/invented_ledger.hpp"

namespace {

using namespace ebbtide;
using namespace ebbtide::testing_support;

class Find : public InventedLedger {
  protected:
    std::vector<std::string> found(const ledger::Query& query) {
        std::vector<std::string> ids;
        for (const auto& order : got(ledger::find(database_, query))) ids.push_back(order.order);
        std::ranges::sort(ids);
        return ids;
    }
};

bool holds(std::string text, std::string part) {
    for (std::string* one : {&text, &part})
        for (char& c : *one)
            if (c >= 'A' && c <= 'Z') c = static_cast<char>(c + 32);
    return text.find(part) != std::string::npos;
}

TEST_F(Find, GivesWhatAListReadByHandGives) {
    std::mt19937 random(20261125);  // seed base; 40 orders, 400 questions
    const auto one_of = [&](const std::vector<std::string>& words) { return words[random() % words.size()]; };
    const std::vector<std::string> customers{"Ropewalk Cloth Mill", "Gannet Film Works", "O'Brine & Söhne"},
        materials{"Halyard cloth", "Antistatic film 40 %", "Foam_5"}, lots{"Roll 7", "roll 71", ""},
        statements{"pass", "conditional pass", "conditional fail", "fail", "void"}, methods{"m-1", "m-12"},
        benches{"B1", "B2"}, days{"2024-02-29", "2025-06-30", "2026-01-01", "2026-09-15"};
    std::vector<InventedOrder> orders;
    for (int i = 0; i < 40; ++i) {
        InventedOrder order;
        order.id = "TP-" + std::to_string(i);
        order.customer = one_of(customers);
        order.material = one_of(materials);
        order.lot = one_of(lots);
        order.statement = one_of(statements);
        order.method = one_of(methods);
        order.bench = one_of(benches);
        order.from = one_of(days);
        order.to = std::max(order.from, one_of(days));
        got(put(statement_of(order)));
        orders.push_back(order);
    }
    std::size_t answers = 0;
    for (int i = 0; i < 400; ++i) {
        const auto maybe = [&](std::vector<std::string> words) {
            return random() % 3 == 0 ? one_of(words) : std::string();
        };
        ledger::Query query;
        query.customer = maybe({"ROPEWALK", "söhne", "'", "film", "Gannet Film Works"});
        query.material = maybe({"cloth", "40 %", "_", "%", "halyard"});
        query.lot = maybe({"roll 7", "1", "Roll"});
        query.statement = maybe(statements);
        query.method = maybe({"m-1", "M-12", "x"});
        query.bench = maybe(benches);
        const std::string from = maybe(days), to = maybe(days);
        if (!from.empty()) query.from = parse_date(from).value();
        if (!to.empty()) query.to = parse_date(to).value();
        std::vector<std::string> expected;
        for (const InventedOrder& order : orders)
            if (holds(order.customer, query.customer) && holds(order.material, query.material) &&
                holds(order.lot, query.lot) &&
                (query.statement.empty() || order.statement == query.statement) &&
                holds(order.method, query.method) && holds(order.bench, query.bench) &&
                (from.empty() || order.to >= from) && (to.empty() || order.from <= to))
                expected.push_back(order.id);
        std::ranges::sort(expected);
        EXPECT_EQ(found(query), expected);
        EXPECT_EQ(got(ledger::count(database_, query)), expected.size());
        // Less of it is its beginning.
        const auto all = got(ledger::find(database_, query));
        const auto few = got(ledger::find(database_, query, 3));
        ASSERT_EQ(few.size(), std::min<std::size_t>(3, all.size()));
        for (std::size_t k = 0; k < few.size(); ++k) EXPECT_EQ(few[k].order, all[k].order);
        answers += expected.size();
    }
    EXPECT_GT(answers, 400u) << "questions that nothing answers prove little";
}

TEST_F(Find, ShowsTheNewestRevisionOnly) {
    InventedOrder order;
    got(put(statement_of(order)));
    order.statement = "fail";
    ledger::Draft amended = statement_of(order);
    amended.who = "I. M.", amended.why = "limit of the later edition";
    got(put(amended));
    ledger::Query query;
    query.statement = "fail";
    EXPECT_EQ(found(query), std::vector<std::string>{"TP-1"});
    query.statement = "pass";
    EXPECT_TRUE(found(query).empty());
    query.statement = "passed";
    EXPECT_FALSE(ledger::find(database_, query).ok());
}

TEST_F(Find, GivesEveryDecayTimeOfAnOrder) {
    fill();
    const auto levels = got(ledger::levels_of(database_, "TP-1"));
    ASSERT_EQ(levels.size(), 2u);
    EXPECT_EQ(levels[0].decay_s, 0.412);
    EXPECT_EQ(levels[1].decay_s, 0.398);
    EXPECT_EQ(levels[0].u_decay_s, 0.021);
    EXPECT_EQ(levels[0].level, 0.1);
    EXPECT_FALSE(levels[0].at_least_s);
    // The same by the view that others ask in SQL.
    EXPECT_EQ(got(database_.number("SELECT count(*) FROM found_result WHERE material = 'Halyard cloth' AND "
                                   "status = 'measured' AND decay_s < 0.5")),
              2);
}

TEST_F(Find, LooksInTablesThatCanBeWorkedOutAnew) {
    fill();
    got(put(transcript_of("spring.csv", 2, 0.38)));
    got(put(check_of("opening", "2026-09-15T06:20:00Z")));
    EXPECT_EQ(damages(), "");
    for (const char* change :
         {"UPDATE found_run SET decay_s = 0.1 WHERE decay_s = 0.412", "DELETE FROM found_order",
          "INSERT INTO found_item VALUES (99, 'C9', 'x', 'y')", "DELETE FROM found_transcript",
          "UPDATE found_check SET ended_ns = ended_ns + 1", "INSERT INTO found_order_check VALUES (3, 'x')",
          "UPDATE found_trend SET sum_ln = sum_ln * 1.00001", "UPDATE found_trend SET failed = failed + 1",
          "DELETE FROM found_trend"}) {
        got(database_.script(change));
        EXPECT_NE(damages().find("--rebuild-index"), std::string::npos) << change;
        got(ledger::rebuild_index(database_));
        EXPECT_EQ(damages(), "") << change;
    }
}

TEST_F(Find, NamesTheOrdersThatRestOnACertificate) {
    const auto bench = [&](const std::string& id, const std::vector<std::string>& certificates) {
        nlohmann::json calibrations = nlohmann::json::array();
        for (const std::string& one : certificates) calibrations.push_back({{"certificate", one}});
        const nlohmann::json body = {{"id", id}, {"calibrations", calibrations}};
        got(put({ledger::Kind::bench, id, ledger::canonical_line(body).value(), "", "", false}));
    };
    bench("B1, A", {"TP-C-2026-031", "TP-C-2026-018"});
    bench("B2, A", {"TP-C-2025-117"});
    for (const auto& [order, on] :
         std::map<std::string, std::string>{{"TP-1", "B1"}, {"TP-2", "B2"}, {"TP-3", "B1"}}) {
        InventedOrder invented;
        invented.id = order;
        invented.bench = on;
        got(put(statement_of(invented)));
    }
    ledger::Query query;
    query.certificate = "tp-c-2026-031";
    EXPECT_EQ(found(query), (std::vector<std::string>{"TP-1", "TP-3"}));
    query.order = "TP-3";
    EXPECT_EQ(found(query), (std::vector<std::string>{"TP-3"}));
    query = {};
    query.certificate = "117";
    EXPECT_EQ(found(query), (std::vector<std::string>{"TP-2"}));
    query.certificate = "TP-C-2024";
    EXPECT_TRUE(found(query).empty());
}

}  // namespace
