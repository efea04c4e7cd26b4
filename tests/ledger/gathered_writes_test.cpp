// What SQLite writes piece by piece reaches the disk in few pieces, and nobody sees a difference but the
// disk.

#include "ledger/invented_ledger.hpp"
#include "ledger/recorded_disk.hpp"

namespace {

using namespace ebbtide;
using namespace ebbtide::testing_support;
using ledger::Database;

/// Writes a run with a recording of 40 kB.
void write_run(Database& database, int number) {
    auto writing = got(ledger::Writing::begin(database));
    got(ledger::put_segment(database, noise(40'000, static_cast<std::uint64_t>(number)), noon(number)));
    got(ledger::put_entry(database, run_of("TP-1", std::to_string(number)), noon(number)));
    got(writing.commit());
}

std::int64_t runs_in(Database& database) {
    return got(database.number("SELECT count(*) FROM found_run")).value_or(-1);
}

TEST(GatheredWrites, RunWithItsRecordingIsOneWriteAndOneFlush) {
    const TemporaryFolder folder;
    const RecordedDisk disk;
    auto database = got(ledger::create_ledger(folder / "lab.ledger"));
    write_run(database, 1);
    const std::size_t before = disk.events().size();
    write_run(database, 2);
    ASSERT_EQ(disk.events().size(), before + 2);
    const DiskEvent &written = disk.events()[before], &flushed = disk.events()[before + 1];
    EXPECT_EQ(written.what, DiskEvent::What::write);
    EXPECT_GT(written.bytes.size(), 40'000u);
    EXPECT_EQ(flushed.what, DiskEvent::What::sync);
    EXPECT_EQ(flushed.file, written.file);
}

TEST(GatheredWrites, LogIsTakenOverInTenthsOfItsWrites) {
    const TemporaryFolder folder;
    const RecordedDisk disk;
    auto database = got(ledger::create_ledger(folder / "lab.ledger"));
    for (int i = 1; i <= 20; ++i) write_run(database, i);
    const std::size_t before = disk.events().size();
    got(database.script("PRAGMA wal_checkpoint(FULL)"));
    std::size_t writes = 0, bytes = 0;
    for (std::size_t i = before; i < disk.events().size(); ++i)
        if (disk.events()[i].what == DiskEvent::What::write) {
            ++writes;
            bytes += disk.events()[i].bytes.size();
        }
    EXPECT_GT(bytes, 20u * 40'000);
    EXPECT_LT(writes, bytes / 4096 / 10) << "a page at a time";
}

TEST(GatheredWrites, OthersSeeWhatWasWrittenWhereNothingWaitsForTheDisk) {
    // Nothing is flushed then, which would hand it on in any case.
    const TemporaryFolder folder;
    auto writer = got(ledger::create_ledger(folder / "lab.ledger"));
    got(writer.script("PRAGMA synchronous = OFF"));
    auto other = got(ledger::open_ledger(folder / "lab.ledger", Database::Access::read));
    for (int i = 1; i <= 5; ++i) {
        write_run(writer, i);
        EXPECT_EQ(runs_in(other), i);
        if (i == 3) got(writer.script("PRAGMA wal_checkpoint(PASSIVE)"));
        auto new_one = got(ledger::open_ledger(folder / "lab.ledger", Database::Access::read));
        EXPECT_EQ(runs_in(new_one), i);
        EXPECT_TRUE(got(ledger::check(new_one)).whole());
    }
}

TEST(GatheredWrites, RecordingOfManyPiecesComesBack) {
    const TemporaryFolder folder;
    const std::string bytes = noise(3'000'000, 7);
    std::string sha256;
    {
        auto database = got(ledger::create_ledger(folder / "lab.ledger"));
        auto writing = got(ledger::Writing::begin(database));
        sha256 = got(ledger::put_segment(database, bytes, noon()));
        got(writing.commit());
    }
    auto database = got(ledger::open_ledger(folder / "lab.ledger", Database::Access::read));
    EXPECT_TRUE(got(ledger::segment(database, sha256)) == bytes);
    EXPECT_TRUE(got(ledger::check(database)).whole());
}

}  // namespace
