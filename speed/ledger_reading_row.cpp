// The ledger: trends and searches on a million runs.

#include <fmt/core.h>

#include <array>
#include <cmath>
#include <filesystem>
#include <memory>

#include "ledger/find.hpp"
#include "ledger/materials.hpp"
#include "ledger/migrations.hpp"
#include "ledger/segments.hpp"
#include "ledger/trend.hpp"
#include "ledger/trend_rows.hpp"
#include "ledger_contenders.hpp"
#include "row.hpp"

namespace ebbtide::speed {
namespace {

using ledger::Database;

constexpr int orders = 40'000, materials = 20, months = 120, segments = 1000;
/// Three decades of ledgers, the last one the rows' own.
constexpr std::array all_orders{orders / 1000, orders / 100, orders / 10, orders};

/// A ledger of `orders_in_it` orders, a million runs in all, that share a thousand segments: the real tables,
/// but for the chain, which neither trend nor search reads; and the same figures in one table as a person
/// would lay it out by hand.
void fill(const std::string& path, const std::string& by_hand, int orders_in_it) {
    std::fprintf(stderr, "  filling a ledger of %d runs\n", orders_in_it * runs_an_order);
    auto database = got(ledger::create_ledger(path));
    PlainSqlite plain(by_hand);
    plain.script(
        "PRAGMA journal_mode = WAL; BEGIN; CREATE TABLE run (material TEXT, year TEXT, level REAL, ln_s "
        "REAL, "
        "decay_s REAL); CREATE TABLE orders (id TEXT, customer TEXT, material TEXT, lot TEXT, method TEXT, "
        "tested TEXT)");
    got(database.script("PRAGMA synchronous = OFF"));
    auto writing = got(ledger::Writing::begin(database));
    const int segments_in_it = std::min(segments, orders_in_it);
    for (int i = 0; i < segments_in_it; ++i)
        got(ledger::put_segment(database, recording(static_cast<std::uint64_t>(i)), {}));
    std::mt19937_64 random(11);
    std::int64_t number = segments_in_it;
    for (int i = 0; i < orders_in_it; ++i) {
        const std::string order = fmt::format("TP-{:05}", i), lot = fmt::format("Roll {}", random() % 5000),
                          customer = fmt::format("Ropewalk Cloth Mill {}", random() % 300),
                          material = fmt::format("Halyard cloth, weave {}", random() % materials);
        const int month = i / (orders_in_it / months + 1);
        const std::string day = fmt::format("{}-{:02}-{:02}", 2016 + month / 12, 1 + month % 12, 1 + i % 28);
        for (int run = 0; run < runs_an_order; ++run) {
            const double decay_s = std::exp(static_cast<double>(random() % 10'000) / 5000 - 2);
            got(database.run(
                "INSERT INTO found_run VALUES (?, 1, ?, ?, 'C1', 'W1', 'front', 'dry', '+', ?, 0.1, "
                "'fraction', 'measured', ?, 0.021, NULL, NULL, 1)",
                {++number, order, fmt::format("{:064x}", number), std::int64_t{run}, decay_s}));
            sqlite3_stmt* insert = plain.prepared("INSERT INTO run VALUES (?, ?, 0.1, ?, ?)");
            sqlite3_bind_text(insert, 1, material.c_str(), -1, SQLITE_TRANSIENT);
            sqlite3_bind_text(insert, 2, day.substr(0, 4).c_str(), -1, SQLITE_TRANSIENT);
            sqlite3_bind_double(insert, 3, std::log(decay_s));
            sqlite3_bind_double(insert, 4, decay_s);
            plain.check(sqlite3_step(insert));
        }
        got(database.run(
            "INSERT INTO found_order VALUES (?, ?, 1, ?, 'house-method', '1', 'house-specification', "
            "'2', 'B1', 'A', ?, ?, ?, NULL, ?)",
            {++number, order, customer, i % 9 == 0 ? "fail" : "pass", day, day,
             std::int64_t{runs_an_order}}));
        got(database.run("INSERT INTO found_item VALUES (?, 'C1', ?, ?)", {number, material, lot}));
        for (const char* kind : {"opening", "closing"})
            got(database.run("INSERT INTO found_order_check VALUES (?, ?)",
                             {number, fmt::format("B1/{}-{}T062000Z", kind, day)}));
        sqlite3_stmt* insert = plain.prepared("INSERT INTO orders VALUES (?, ?, ?, ?, 'house-method', ?)");
        int column = 0;
        for (const std::string* text : {&order, &customer, &material, &lot, &day})
            sqlite3_bind_text(insert, ++column, text->c_str(), -1, SQLITE_TRANSIENT);
        plain.check(sqlite3_step(insert));
    }
    got(ledger::rebuild_trend(database));
    got(writing.commit());
    plain.script("CREATE INDEX covering ON run (level, year, ln_s, decay_s); COMMIT");
}

/// Made once for the rows that read it.
struct Filled {
    std::string ours, by_hand;
};
Filled filled(const std::string& folder, int orders_in_it = orders) {
    const std::string name = fmt::format("{}/{}-orders", folder, orders_in_it);
    Filled paths{name + ".ledger", name + ".sqlite"};
    if (!std::filesystem::exists(paths.ours)) fill(paths.ours, paths.by_hand, orders_in_it);
    return paths;
}

std::shared_ptr<Database> opened(const Filled& paths) {
    return std::make_shared<Database>(got(ledger::open_ledger(paths.ours, Database::Access::read)));
}

}  // namespace

void fill_million(const std::string& ledger) {
    fill(ledger, ledger + ".by-hand", orders);
    std::filesystem::remove(ledger + ".by-hand");
}

Row ledger_trend_row(const std::string& folder) {
    const Filled paths = filled(folder);
    const auto plain = std::make_shared<PlainSqlite>(paths.by_hand);
    const auto trend_of = [](const std::shared_ptr<Database>& database) {
        return [database] {
            Lap lap;
            std::vector<ledger::TrendSeries> trend;
            lap.seconds = processor_seconds_of([&] {
                trend = got(ledger::trend(*database, {"cloth", 0.1, "fraction", {}}));
            });
            for (const ledger::TrendSeries& series : trend)
                for (const ledger::TrendPeriod& period : series.periods)
                    lap.answer += static_cast<double>(period.times) * std::log(*period.mean_s);
            return lap;
        };
    };
    Row row;
    row.id = "ledger_trend";
    row.work = "geometric mean, extremes and count of the decay times of each year, over all runs";
    row.size = fmt::format("{} runs of {} orders, {} materials, {} months", orders * runs_an_order, orders,
                           materials, months);
    row.amount = orders * runs_an_order;
    row.unit = "runs";
    // The answer of each is the sum of the logarithms.
    row.ours = {"ledger trend, by material", trend_of(opened(paths))};
    const auto by_sql = [plain](const std::string& table) {
        return [plain, table] {
            Lap lap;
            lap.seconds = processor_seconds_of([&] {
                lap.answer = plain
                                 ->sum(
                                     "SELECT year, count(*), sum(ln_s), min(decay_s), max(decay_s) "
                                     "FROM " +
                                         table + " WHERE level = 0.1 GROUP BY year",
                                     2)
                                 .first;
            });
            return lap;
        };
    };
    row.peers = {{"covering index, plain SQL", by_sql("run INDEXED BY covering")},
                 {"table scan, plain SQL", by_sql("run NOT INDEXED")}};
    row.goals = {{"at least 50 times as fast as a covering index", "covering index, plain SQL", 50}};
    row.limit = "reading a row of a month at a time";
    row.answer_tolerance = 1e-9;
    for (const int some : all_orders)
        row.growth.push_back(
            {static_cast<double>(some * runs_an_order), trend_of(opened(filled(folder, some)))});
    return row;
}

Row ledger_find_row(const std::string& folder) {
    const Filled paths = filled(folder);
    const auto database = opened(paths);
    const auto plain = std::make_shared<PlainSqlite>(paths.by_hand);
    Row row;
    row.id = "ledger_find";
    row.work = "orders of a material, lot and customer, parts of whose names are known";
    row.size = fmt::format("{} orders with {} runs", orders, orders * runs_an_order);
    row.amount = 1;
    row.unit = "searches";
    ledger::Query query;
    query.material = "weave 7", query.lot = "roll 77", query.customer = "mill 1";
    const auto find_in = [query](const std::shared_ptr<Database>& in) {
        return [in, query] {
            Lap lap;
            lap.seconds = processor_seconds_of(
                [&] { lap.answer = static_cast<double>(got(ledger::find(*in, query)).size()); });
            return lap;
        };
    };
    row.ours = {"ledger find", find_in(database)};
    row.peers = {{"the same SQL by hand, one table", [plain] {
                      Lap lap;
                      lap.seconds = processor_seconds_of([&] {
                          lap.answer =
                              plain
                                  ->sum(
                                      "SELECT * FROM orders WHERE instr(lower(material), 'weave 7') > 0 "
                                      "AND instr(lower(lot), 'roll 77') > 0 AND "
                                      "instr(lower(customer), 'mill 1') > 0 ORDER BY tested DESC",
                                      0)
                                  .second;
                      });
                      return lap;
                  }}};
    row.goals = {{"under 100 ms", "", 10}};
    row.findings = [database] {
        std::vector<Finding> findings;
        const auto asked = [&](const std::string& name, const ledger::Query& of) {
            std::size_t count = 0;
            double best = HUGE_VAL;
            for (int i = 0; i < 5; ++i)
                best = std::min(
                    best, processor_seconds_of([&] { count = got(ledger::find(*database, of)).size(); }));
            findings.push_back(
                {fmt::format("by {}: {:.1f} ms, {} orders", name, best * 1e3, count), best < 0.1});
        };
        ledger::Query one;
        one.order = "12345", asked("order", one), one = {};
        one.customer = "mill 12", asked("customer", one), one = {};
        one.material = "weave 11", asked("material", one), one = {};
        one.lot = "roll 4321", asked("lot", one), one = {};
        one.method = "nobody", asked("method", one), one = {};
        one.specification = "nothing", asked("specification", one), one = {};
        one.bench = "B7", asked("bench", one), one = {};
        one.check = "opening-2025", asked("bench check", one), one = {};
        one.statement = "conditional fail", asked("statement", one), one = {};
        one.from = parse_date("2025-11-01").value(), asked("date", one), one = {};
        double every = HUGE_VAL;
        for (int i = 0; i < 5; ++i)
            every = std::min(every, processor_seconds_of([&] { (void)got(ledger::materials(*database)); }));
        findings.push_back({fmt::format("list of materials: {:.1f} ms", every * 1e3), every < 0.1});
        double levels = HUGE_VAL;
        for (int i = 0; i < 5; ++i)
            levels = std::min(levels,
                              processor_seconds_of([&] { got(ledger::levels_of(*database, "TP-12345")); }));
        findings.push_back(
            {fmt::format("all decay times of an order: {:.2f} ms", levels * 1e3), levels < 0.1});
        return findings;
    };
    row.limit = "one look at the names of every order";
    for (const int some : all_orders)
        row.growth.push_back(
            {static_cast<double>(some * runs_an_order), find_in(opened(filled(folder, some)))});
    row.growth_unit = "runs";
    return row;
}

}  // namespace ebbtide::speed
