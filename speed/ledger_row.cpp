// The ledger: durable writes, trends and searches on a million runs.

#include <fmt/core.h>
#include <sqlite3.h>
#include <unistd.h>

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <memory>
#include <nlohmann/json.hpp>
#include <random>
#include <stdexcept>

#include "ledger/canonical.hpp"
#include "ledger/entries.hpp"
#include "ledger/find.hpp"
#include "ledger/found_rows.hpp"
#include "ledger/migrations.hpp"
#include "ledger/segments.hpp"
#include "ledger/trend.hpp"
#include "ledger/trend_rows.hpp"
#include "row.hpp"

namespace ebbtide::speed {
namespace {

using ledger::Database;
using nlohmann::json;

template <class T>
T got(Result<T> result) {
    if (!result) throw std::runtime_error(result.error().text());
    return std::move(result).value();
}

/// SQLite as a person would use it, without anything of ours.
class PlainSqlite {
  public:
    explicit PlainSqlite(const std::string& path) { check(sqlite3_open(path.c_str(), &handle_)); }
    ~PlainSqlite() {
        for (const auto& [sql, statement] : prepared_) sqlite3_finalize(statement);
        sqlite3_close(handle_);
    }
    PlainSqlite(const PlainSqlite&) = delete;
    PlainSqlite& operator=(const PlainSqlite&) = delete;

    void script(const std::string& sql) {
        check(sqlite3_exec(handle_, sql.c_str(), nullptr, nullptr, nullptr));
    }
    sqlite3_stmt* prepared(const std::string& sql) {
        sqlite3_stmt*& statement = prepared_[sql];
        if (!statement) check(sqlite3_prepare_v2(handle_, sql.c_str(), -1, &statement, nullptr));
        sqlite3_reset(statement);
        return statement;
    }
    /// Sum of a column over all rows, and how many there are.
    std::pair<double, double> sum(const std::string& sql, int column) {
        sqlite3_stmt* statement = prepared(sql);
        std::pair<double, double> sum{0, 0};
        while (sqlite3_step(statement) == SQLITE_ROW) {
            sum.first += sqlite3_column_double(statement, column);
            ++sum.second;
        }
        return sum;
    }
    void check(int code) const {
        if (code != SQLITE_OK && code != SQLITE_DONE) throw std::runtime_error(sqlite3_errmsg(handle_));
    }

  private:
    sqlite3* handle_ = nullptr;
    std::map<std::string, sqlite3_stmt*> prepared_;
};

/// 40 kB that no packing makes smaller.
std::string recording(std::uint64_t seed) {
    std::mt19937_64 random(seed);
    std::string bytes(40'000, '\0');
    for (std::size_t i = 0; i + 8 <= bytes.size(); i += 8) {
        const std::uint64_t word = random();
        std::copy_n(reinterpret_cast<const char*>(&word), 8, bytes.data() + i);
    }
    return bytes;
}

std::string run_body(const std::string& order, const std::string& run, double decay_s) {
    const json level = {{"level", 0.1},        {"level_kind", "fraction"}, {"status", "measured"},
                        {"decay_s", decay_s},  {"u_decay_s", 0.021},       {"at_least_s", nullptr},
                        {"at_most_s", nullptr}};
    return got(ledger::canonical_line({{"order", order},
                                       {"item", "C1"},
                                       {"run", run},
                                       {"specimen", "W1"},
                                       {"face", "front"},
                                       {"conditions", "dry"},
                                       {"polarity", "+"},
                                       {"replicate", 1},
                                       {"counts", true},
                                       {"figures", {{"levels", {level}}}}}));
}

/// Seconds of each write of a contender, over all turns.
struct Latencies {
    std::vector<double> seconds;
    double processor_s = 0;  ///< spent on all of them, without waiting for the disk

    [[nodiscard]] double quantile(double share) const {
        std::vector<double> sorted = seconds;
        std::ranges::sort(sorted);
        const auto at = static_cast<std::size_t>(share * static_cast<double>(sorted.size()));
        return sorted.at(std::min(at, sorted.size() - 1));
    }
};

constexpr int writes_a_turn = 250;

/// Takes turns of writes; each turn's answer is how many records it wrote.
Turn writing(const std::shared_ptr<Latencies>& latencies,
             const std::function<void(std::uint64_t number, const std::string& bytes)>& write) {
    auto number = std::make_shared<std::uint64_t>(0);
    return [latencies, write, number] {
        Lap lap;
        for (int i = 0; i < writes_a_turn; ++i) {
            const std::string bytes = recording(++*number);
            const double seconds = seconds_of(
                [&] { latencies->processor_s += processor_seconds_of([&] { write(*number, bytes); }); });
            latencies->seconds.push_back(seconds);
            lap.seconds += seconds;
            ++lap.answer;
        }
        return lap;
    };
}

constexpr int orders = 40'000, runs_an_order = 25, materials = 20, months = 120, segments = 1000;

/// A ledger of a million runs that share a thousand segments: the real tables, but for the chain, which
/// neither trend nor search reads; and the same figures in one table as a person would lay it out by hand.
void fill(const std::string& path, const std::string& by_hand) {
    std::fprintf(stderr, "  filling a ledger of %d runs\n", orders * runs_an_order);
    auto database = got(ledger::create_ledger(path));
    PlainSqlite plain(by_hand);
    plain.script(
        "PRAGMA journal_mode = WAL; BEGIN; CREATE TABLE run (material TEXT, year TEXT, level REAL, ln_s "
        "REAL, "
        "decay_s REAL); CREATE TABLE orders (id TEXT, customer TEXT, material TEXT, lot TEXT, method TEXT, "
        "tested TEXT)");
    got(database.script("PRAGMA synchronous = OFF"));
    auto writing = got(ledger::Writing::begin(database));
    for (std::uint64_t i = 0; i < segments; ++i) got(ledger::put_segment(database, recording(i), {}));
    std::mt19937_64 random(11);
    std::int64_t number = segments;
    for (int i = 0; i < orders; ++i) {
        const std::string order = fmt::format("TP-{:05}", i), lot = fmt::format("Roll {}", random() % 5000),
                          customer = fmt::format("Ropewalk Cloth Mill {}", random() % 300),
                          material = fmt::format("Halyard cloth, weave {}", random() % materials);
        const int month = i / (orders / months + 1);
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
Filled filled(const std::string& folder) {
    Filled paths{folder + "/million.ledger", folder + "/million.sqlite"};
    if (!std::filesystem::exists(paths.ours)) fill(paths.ours, paths.by_hand);
    return paths;
}

}  // namespace

void fill_million(const std::string& ledger) {
    fill(ledger, ledger + ".by-hand");
    std::filesystem::remove(ledger + ".by-hand");
}

Row ledger_writes_row(const std::string& folder) {
    const auto database = std::make_shared<Database>(got(ledger::create_ledger(folder + "/writes.ledger")));
    const auto plain = std::make_shared<PlainSqlite>(folder + "/writes.sqlite");
    plain->script(
        "PRAGMA journal_mode = WAL; PRAGMA synchronous = FULL; CREATE TABLE run (id INTEGER PRIMARY KEY, "
        "recording BLOB)");
    const auto ours = std::make_shared<Latencies>(), theirs = std::make_shared<Latencies>(),
               floor = std::make_shared<Latencies>();
    Row row;
    row.id = "ledger_writes";
    row.work =
        "run records, each on the disk before the next: recording, run, hashes, chain, tables for finding";
    row.size = fmt::format("{} records a turn of 40,000 bytes that do not pack", writes_a_turn);
    row.amount = writes_a_turn;
    row.unit = "records";
    row.ours = {"ledger", writing(ours, [database](std::uint64_t number, const std::string& bytes) {
                    auto one = got(ledger::Writing::begin(*database));
                    const Instant at{static_cast<std::int64_t>(number)};
                    const std::string sha256 = got(ledger::put_segment(*database, bytes, at));
                    const std::string order = fmt::format("TP-{:05}", number / runs_an_order);
                    got(ledger::put_entry(*database,
                                          {ledger::Kind::run, order + "/" + sha256,
                                           run_body(order, sha256, 0.3), "T. O.", "", false},
                                          at));
                    got(one.commit());
                })};
    const auto log =
        std::shared_ptr<std::FILE>(std::fopen((folder + "/appended").c_str(), "wb"), std::fclose);
    row.peers = {{"plain SQLite, the recording only",
                  writing(theirs,
                          [plain](std::uint64_t number, const std::string& bytes) {
                              sqlite3_stmt* insert = plain->prepared("INSERT INTO run VALUES (?, ?)");
                              sqlite3_bind_int64(insert, 1, static_cast<std::int64_t>(number));
                              sqlite3_bind_blob(insert, 2, bytes.data(), static_cast<int>(bytes.size()),
                                                SQLITE_STATIC);
                              plain->check(sqlite3_step(insert));
                              sqlite3_reset(insert);
                          })},
                 {"append and fdatasync",
                  writing(floor,
                          [log](std::uint64_t, const std::string& bytes) {
                              std::fwrite(bytes.data(), 1, bytes.size(), log.get());
                              std::fflush(log.get());
                              if (::fdatasync(::fileno(log.get())) != 0)
                                  throw std::runtime_error("no fdatasync");
                          }),
                  false}};
    row.goals = {{"at least 0.9 times the rate of plain SQLite", "plain SQLite, the recording only", 0.9}};
    row.findings = [ours, theirs, floor] {
        std::vector<Finding> findings;
        const double p99 = ours->quantile(0.99), median = ours->quantile(0.5);
        findings.push_back(
            {fmt::format("one write in a hundred takes at most twice the median: {:.2f} times", p99 / median),
             p99 <= 2 * median});
        for (const auto& [name, of] :
             {std::pair{"ledger", ours}, {"plain SQLite", theirs}, {"append", floor}})
            findings.push_back(
                {fmt::format(
                     "{}: median {:.0f} us, 99th of a hundred {:.0f} us, slowest {:.0f} us, of which the "
                     "processor works {:.0f} us on average",
                     name, of->quantile(0.5) * 1e6, of->quantile(0.99) * 1e6, of->quantile(1) * 1e6,
                     of->processor_s / static_cast<double>(of->seconds.size()) * 1e6),
                 {}});
        return findings;
    };
    row.limit = "one flush of the disk a record";
    return row;
}

Row ledger_trend_row(const std::string& folder) {
    const Filled paths = filled(folder);
    const auto database =
        std::make_shared<Database>(got(ledger::open_ledger(paths.ours, Database::Access::read)));
    const auto plain = std::make_shared<PlainSqlite>(paths.by_hand);
    Row row;
    row.id = "ledger_trend";
    row.work = "geometric mean, extremes and count of the decay times of each year, over all runs";
    row.size = fmt::format("{} runs of {} orders, {} materials, {} months", orders * runs_an_order, orders,
                           materials, months);
    row.amount = orders * runs_an_order;
    row.unit = "runs";
    // The answer of each is the sum of the logarithms.
    row.ours = {"ledger trend, by material", [database] {
                    Lap lap;
                    std::vector<ledger::TrendSeries> trend;
                    lap.seconds = processor_seconds_of([&] {
                        trend = got(ledger::trend(*database, {"cloth", 0.1, "fraction", {}}));
                    });
                    for (const ledger::TrendSeries& series : trend)
                        for (const ledger::TrendPeriod& period : series.periods)
                            lap.answer += static_cast<double>(period.times) * std::log(*period.mean_s);
                    return lap;
                }};
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
    return row;
}

Row ledger_find_row(const std::string& folder) {
    const Filled paths = filled(folder);
    const auto database =
        std::make_shared<Database>(got(ledger::open_ledger(paths.ours, Database::Access::read)));
    const auto plain = std::make_shared<PlainSqlite>(paths.by_hand);
    const auto slowest = std::make_shared<std::vector<std::pair<std::string, double>>>();
    Row row;
    row.id = "ledger_find";
    row.work = "orders of a material, lot and customer, parts of whose names are known";
    row.size = fmt::format("{} orders with {} runs", orders, orders * runs_an_order);
    row.amount = 1;
    row.unit = "searches";
    ledger::Query query;
    query.material = "weave 7", query.lot = "roll 77", query.customer = "mill 1";
    row.ours = {"ledger find", [database, query] {
                    Lap lap;
                    lap.seconds = processor_seconds_of([&] {
                        lap.answer = static_cast<double>(got(ledger::find(*database, query)).size());
                    });
                    return lap;
                }};
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
        one.statement = "conditional fail", asked("statement", one), one = {};
        one.from = parse_date("2025-11-01").value(), asked("date", one), one = {};
        double levels = HUGE_VAL;
        for (int i = 0; i < 5; ++i)
            levels = std::min(levels,
                              processor_seconds_of([&] { got(ledger::levels_of(*database, "TP-12345")); }));
        findings.push_back(
            {fmt::format("all decay times of an order: {:.2f} ms", levels * 1e3), levels < 0.1});
        return findings;
    };
    row.limit = "one look at the names of every order";
    return row;
}

}  // namespace ebbtide::speed
