// The power fails at any instant: every run that was acknowledged is there, byte for byte, and the ledger is
// whole.
//
// One trace is recorded of all that SQLite asks of the disk while runs are put in; 100 instants in it (500
// with EBBTIDE_LONG), seed 20,261,125, each give one state in which the disk may be found.

#include <fmt/format.h>

#include <cstdlib>
#include <set>

#include "basis/sha256.hpp"
#include "ledger/find.hpp"
#include "ledger/invented_ledger.hpp"
#include "ledger/power_cut.hpp"

namespace {

using namespace ebbtide;
using namespace ebbtide::testing_support;
using ledger::Database;

/// A run with its recording, and what had been asked of the disk when it was acknowledged.
struct Acknowledged {
    std::size_t events = 0;
    std::string id, body, segment;
};

struct Trace {
    std::vector<DiskEvent> events;
    std::size_t made = 0;  ///< events until the new ledger was acknowledged
    std::vector<Acknowledged> runs;
};

/// Makes a ledger, writes runs to it, closes it now and then, corrects a run now and then.
Trace recorded(const std::string& path, const std::string& settings) {
    const RecordedDisk disk;
    Trace trace;
    auto database = got(ledger::create_ledger(path));
    trace.made = disk.events().size();
    for (int i = 0; i < 120; ++i) {
        if (i % 30 == 0) {
            // Closed, the log is taken over into the file and removed.
            database = got(Database::in_memory());
            database = got(ledger::open_ledger(path, Database::Access::write));
            // A log of half a megabyte is taken over every dozen runs, and written anew from its beginning.
            got(database.script("PRAGMA wal_autocheckpoint = 128;" + settings));
        }
        auto writing = got(ledger::Writing::begin(database));
        const auto number = static_cast<std::uint64_t>(i);
        ledger::Draft run = run_of("TP-1", std::to_string(i % 5 == 4 ? i - 1 : i), 0.1 + 0.01 * i);
        run.who = "T. O.", run.why = "gain";
        const std::string segment = noise(500 + 1700 * (number % 13), number);
        got(ledger::put_segment(database, segment, noon(i)));
        const auto entry = got(ledger::put_entry(database, run, noon(i)));
        if (i % 10 == 9) {
            ledger::Draft statement = statement_of({});
            statement.who = statement.why = "T. O.";
            statement.body =
                statement.body.replace(statement.body.find("Roll 7"), 6, fmt::format("R {:4}", i));
            got(ledger::put_entry(database, statement, noon(i)));
        }
        got(writing.commit());
        trace.runs.push_back({disk.events().size(), fmt::format("{} {}", run.id, entry.revision), run.body,
                              sha256_hex(segment)});
    }
    database = got(Database::in_memory());
    trace.events = disk.events();
    return trace;
}

/// What is wrong with the ledger as it lies there, after `runs` of the trace were acknowledged.
std::string faults_of(const std::string& path, const Trace& trace, std::size_t runs) {
    auto database = ledger::open_ledger(path, Database::Access::write);
    if (!database) return "does not open: " + database.error().text();
    const auto checked = ledger::check(*database);
    if (!checked) return "cannot be checked: " + checked.error().text();
    if (!checked->whole()) return "is damaged: " + checked->damages.front().what;
    std::map<std::string, std::string> bodies;
    const auto read = database->each("SELECT id || ' ' || revision, body FROM entry", {},
                                     [&](const ledger::Row& row) -> Result<Done> {
                                         bodies[row.text(0)] = row.text(1);
                                         return Done{};
                                     });
    if (!read) return read.error().text();
    for (std::size_t i = 0; i < runs; ++i) {
        const Acknowledged& run = trace.runs[i];
        const auto found = bodies.find(run.id);
        if (found == bodies.end() || found->second != run.body) return "lost run " + run.id;
        if (!ledger::segment(*database, run.segment).ok()) return "lost the recording of run " + run.id;
    }
    // It goes on like any other. What this writes need not outlive the test.
    if (const auto quick = database->script("PRAGMA synchronous = OFF"); !quick) return quick.error().text();
    auto writing = ledger::Writing::begin(*database);
    if (!writing) return writing.error().text();
    const auto more = ledger::put_entry(*database, person("T. Okafor"), noon());
    if (!more) return more.error().text();
    const auto done = writing->commit();
    return done ? "" : done.error().text();
}

/// Instants at which the trace stops, in order: half anywhere, half just after an acknowledgement, when all
/// must be there although nothing came after.
std::vector<std::size_t> instants_in(const Trace& trace, std::size_t count, std::mt19937_64& random) {
    std::vector<std::size_t> instants;
    while (instants.size() < count) {
        const std::size_t span = trace.events.size() - trace.made;
        instants.push_back(trace.made + random() % (span + 1));
        instants.push_back(trace.runs[random() % trace.runs.size()].events);
    }
    std::ranges::sort(instants);
    return instants;
}

struct Outcome {
    std::size_t images = 0, acknowledged = 0, with_a_log = 0;
    std::vector<std::string> faults;
};

Outcome crash(const Trace& trace, const std::string& path, std::size_t images) {
    std::mt19937_64 random(20'261'125);
    Outcome outcome;
    Disk disk;
    std::size_t applied = 0;
    for (const std::size_t instant : instants_in(trace, images, random)) {
        for (; applied < instant; ++applied) disk.apply(trace.events[applied]);
        const TemporaryFolder folder;
        for (const auto& [name, bytes] : disk.after_power_cut(random)) {
            write_bytes(folder / std::filesystem::path(name).filename(), bytes);
            if (name.ends_with("-wal") && !bytes.empty()) ++outcome.with_a_log;
        }
        std::size_t runs = 0;
        while (runs < trace.runs.size() && trace.runs[runs].events <= instant) ++runs;
        const std::string name = std::filesystem::path(path).filename();
        const std::string fault = faults_of(folder / name, trace, runs);
        if (!fault.empty())
            outcome.faults.push_back(fmt::format("event {} of {}, {} runs acknowledged: {}", instant,
                                                 trace.events.size(), runs, fault));
        ++outcome.images;
        outcome.acknowledged += runs;
    }
    return outcome;
}

TEST(PowerCut, LosesNothingThatWasAcknowledged) {
    const std::size_t images = std::getenv("EBBTIDE_LONG") != nullptr ? 500 : 100;
    const TemporaryFolder folder;
    const Trace trace = recorded(folder / "lab.ledger", "");
    // What the trace has to hold to prove anything.
    std::set<DiskEvent::What> kinds;
    for (const DiskEvent& event : trace.events) kinds.insert(event.what);
    EXPECT_TRUE(kinds.contains(DiskEvent::What::remove)) << "no log was ever removed";
    EXPECT_TRUE(kinds.contains(DiskEvent::What::sync_folder));
    const Outcome outcome = crash(trace, folder / "lab.ledger", images);
    EXPECT_EQ(outcome.images, images);
    EXPECT_GT(outcome.with_a_log, images / 2);
    EXPECT_GT(outcome.acknowledged, 20 * images);
    for (const std::string& fault : outcome.faults) ADD_FAILURE() << fault;
}

TEST(PowerCut, LosesRunsWhereNothingWaitsForTheDisk) {
    // The control: without syncs the same cuts must be seen to lose what was acknowledged.
    const TemporaryFolder folder;
    const Trace trace = recorded(folder / "lab.ledger", "PRAGMA synchronous = OFF");
    const Outcome outcome = crash(trace, folder / "lab.ledger", 20);
    EXPECT_GT(outcome.faults.size(), 10u);
}

}  // namespace
