// The ledger: durable writes.

#include <fmt/core.h>
#include <unistd.h>

#include <algorithm>
#include <filesystem>
#include <memory>
#include <nlohmann/json.hpp>

#include "ledger/canonical.hpp"
#include "ledger/entries.hpp"
#include "ledger/migrations.hpp"
#include "ledger/segments.hpp"
#include "ledger_contenders.hpp"
#include "row.hpp"

namespace ebbtide::speed {
namespace {

using ledger::Database;
using nlohmann::json;

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

/// Runs with recordings of a kilobyte, all in one Writing of a new ledger.
Turn writing_at_once(const std::string& path, int runs) {
    return [path, runs] {
        for (const char* beside : {"", "-wal", "-shm"}) std::filesystem::remove(path + beside);
        auto database = got(ledger::create_ledger(path));
        Lap lap;
        lap.seconds = processor_seconds_of([&] {
            auto one = got(ledger::Writing::begin(database));
            for (int i = 0; i < runs; ++i) {
                const std::string bytes = recording(static_cast<std::uint64_t>(i)).substr(0, 1000);
                const std::string sha256 = got(ledger::put_segment(database, bytes, {}));
                const std::string order = fmt::format("TP-{:05}", i / runs_an_order);
                got(ledger::put_entry(database,
                                      {ledger::Kind::run, order + "/" + sha256, run_body(order, sha256, 0.3),
                                       "T. O.", "", false},
                                      {}));
            }
            got(one.commit());
        });
        lap.answer = runs;
        return lap;
    };
}

/// Bytes that a run takes in a ledger, beside those of its recording, where `runs` of them were written.
double bytes_a_run(const std::string& path, int runs) {
    auto database = got(ledger::open_ledger(path, Database::Access::write));
    got(database.script("PRAGMA wal_checkpoint(TRUNCATE)"));
    return static_cast<double>(std::filesystem::file_size(path)) / runs - 1000;
}

}  // namespace

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
    row.findings = [ours, theirs, floor, folder] {
        std::vector<Finding> findings;
        // Where others use the disk too, the quick tenth still tells what a write takes by itself.
        findings.push_back(
            {fmt::format("the quickest tenth of the writes: {:.0f} us, plain SQLite {:.0f} us, {:.2f} "
                         "times its rate",
                         ours->quantile(0.1) * 1e6, theirs->quantile(0.1) * 1e6,
                         theirs->quantile(0.1) / ours->quantile(0.1)),
             {}});
        constexpr int many = 10'000;
        const std::string large = folder + "/many-runs.ledger";
        (void)writing_at_once(large, many)();
        findings.push_back(
            {fmt::format("a run takes {:.0f} bytes in the file beside its recording, of {} runs",
                         bytes_a_run(large, many), many),
             {}});
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
    row.limit = "one flush of 70 kB a record, then the processor: hashes, JSON, chain, tables";
    for (const int runs : {10, 100, 1000, 10'000})
        row.growth.push_back({static_cast<double>(runs),
                              writing_at_once(fmt::format("{}/{}-runs.ledger", folder, runs), runs)});
    row.growth_unit = "runs at once, on the processor";
    return row;
}

}  // namespace ebbtide::speed
