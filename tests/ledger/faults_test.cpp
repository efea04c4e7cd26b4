// Disks that are full, files that are moved, programs that are killed: what was acknowledged is there, and
// every refusal says what to do.

#include <fmt/format.h>
#include <signal.h>
#include <sys/resource.h>

#include <chrono>
#include <cstdlib>
#include <functional>
#include <random>
#include <thread>

#include "ledger/backup.hpp"
#include "ledger/find.hpp"
#include "ledger/invented_ledger.hpp"

namespace {

using namespace ebbtide;
using namespace ebbtide::testing_support;
using ledger::Database;

class Faults : public InventedLedger {
  protected:
    [[nodiscard]] Result<Database> open(const std::string& name, Database::Access access) const {
        return ledger::open_ledger(folder_ / name, access);
    }
    void close() { database_ = got(Database::in_memory()); }
};

/// Runs something in a child; what it returns is the child's exit code.
int in_child(const std::function<int()>& work) {
    const pid_t child = ::fork();
    if (child == 0) {
        int code = 99;
        try {
            code = work();
        } catch (...) {
        }
        ::_exit(code);
    }
    int status = 0;
    EXPECT_EQ(::waitpid(child, &status, 0), child);
    return WIFEXITED(status) ? WEXITSTATUS(status) : -WTERMSIG(status);
}

bool says(const Error& error, const std::string& part) {
    return error.text().find(part) != std::string::npos && !error.remedy.empty();
}

TEST_F(Faults, FilesThatAreNoLedgersAreRefused) {
    write_bytes(folder_ / "text", std::string(5000, 'x'));
    write_bytes(folder_ / "empty", "");
    write_bytes(folder_ / "cut", bytes_of(path()).substr(0, 100));
    {
        auto other = got(Database::create(folder_ / "other"));
        got(other.script("CREATE TABLE anything (x)"));
    }
    for (const char* name : {"text", "empty", "cut", "other", "missing", "."})
        for (const auto access : {Database::Access::read, Database::Access::write}) {
            const auto refused = open(name, access);
            ASSERT_FALSE(refused.ok()) << name;
            EXPECT_NE(refused.error().remedy, "") << name;
        }
    EXPECT_TRUE(says(open("text", Database::Access::read).error(), "is not a ledger"));
    EXPECT_TRUE(says(open("other", Database::Access::write).error(), "is not a ledger"));
    EXPECT_FALSE(std::filesystem::exists(folder_ / "missing"));
    EXPECT_FALSE(ledger::create_ledger(path()).ok()) << "there is one already";
    EXPECT_FALSE(ledger::create_ledger(folder_ / "no such folder/x").ok());
    EXPECT_FALSE(ledger::create_ledger("").ok());
}

TEST_F(Faults, NamesThatMeanSomethingToTheDatabaseAreNames) {
    const auto old = std::filesystem::current_path();
    std::filesystem::current_path(folder_.path());
    for (const std::string name : {":memory:", "file:x?mode=memory", "a b%20?#'.ledger"}) {
        EXPECT_TRUE(ledger::create_ledger(name).ok()) << name;
        EXPECT_TRUE(std::filesystem::exists(folder_ / name)) << name;
        EXPECT_TRUE(ledger::open_ledger(name, Database::Access::read).ok()) << name;
    }
    std::filesystem::current_path(old);
}

TEST_F(Faults, NewerSchemaIsRefused) {
    got(database_.script(fmt::format("PRAGMA user_version = {}", ledger::newest_schema + 1)));
    for (const auto access : {Database::Access::read, Database::Access::write}) {
        const auto refused = open("lab.ledger", access);
        ASSERT_FALSE(refused.ok());
        EXPECT_TRUE(says(refused.error(), "newer version")) << refused.error().text();
    }
}

TEST_F(Faults, SecondWriterWaitsThenSaysSo) {
    auto second = got(ledger::open_ledger(path(), Database::Access::write, Span::from_seconds(0.3)));
    auto first = got(ledger::Writing::begin(database_));
    const auto began = std::chrono::steady_clock::now();
    const auto refused = ledger::Writing::begin(second);
    const std::chrono::duration<double> waited = std::chrono::steady_clock::now() - began;
    ASSERT_FALSE(refused.ok());
    EXPECT_TRUE(says(refused.error(), "another program is writing")) << refused.error().text();
    EXPECT_GT(waited.count(), 0.25);
    // Readers need no turn.
    EXPECT_TRUE(ledger::find(second, {}).ok());
    got(ledger::put_entry(database_, person("T. Okafor"), noon()));
    got(first.commit());
    auto turn = got(ledger::Writing::begin(second));
    EXPECT_EQ(got(ledger::put_entry(second, person("I. Marsh"), noon())).number, 2) << "the chain goes on";
    got(turn.commit());
    EXPECT_EQ(damages(), "");
}

TEST_F(Faults, ReadOnlyFileIsReadAndNotWritten) {
    fill();
    const auto head = got(ledger::head(database_));
    close();
    namespace fs = std::filesystem;
    fs::permissions(path(), fs::perms(0444));
    fs::permissions(folder_.path(), fs::perms(0555));
    const int code = in_child([&] {
        if (::geteuid() == 0 && ::setuid(65534) != 0) return 1;
        const auto writing = open("lab.ledger", Database::Access::write);
        if (writing.ok() || !says(writing.error(), "is read-only")) return 2;
        auto reading = open("lab.ledger", Database::Access::read);
        if (!reading) return 3;
        if (got(ledger::find(*reading, {})).size() != 1) return 4;
        const auto checked = got(ledger::check(*reading));
        return checked.whole() && checked.head.sha256 == head.sha256 ? 0 : 5;
    });
    EXPECT_EQ(code, 0);
    fs::permissions(folder_.path(), fs::perms(0755));
}

TEST_F(Faults, ReaderLeavesNothingBesideTheFileAndCannotWrite) {
    fill();
    close();
    {
        auto reading = got(open("lab.ledger", Database::Access::read));
        EXPECT_EQ(got(ledger::find(reading, {})).size(), 1u);
        const auto refused = reading.script("DELETE FROM found_order");
        ASSERT_FALSE(refused.ok());
        EXPECT_TRUE(says(refused.error(), "is read-only"));
    }
    for (const char* beside : {"-wal", "-shm"})
        EXPECT_FALSE(std::filesystem::exists(path() + beside)) << beside;
}

TEST_F(Faults, MovedFileIsNotWrittenToUnderItsOldName) {
    got(put(person("T. Okafor")));
    std::filesystem::rename(path(), folder_ / "moved.ledger");
    const auto refused = put(person("I. Marsh"));
    ASSERT_FALSE(refused.ok());
    EXPECT_TRUE(says(refused.error(), "moved or replaced")) << refused.error().text();
    // Another file takes its place: that is not the one that was opened.
    got(ledger::create_ledger(path()));
    EXPECT_FALSE(put(person("I. Marsh")).ok());
}

TEST_F(Faults, FileMovedDuringAWritingIsNotCommitted) {
    auto writing = got(ledger::Writing::begin(database_));
    got(ledger::put_entry(database_, person("T. Okafor"), noon()));
    std::filesystem::rename(path(), folder_ / "moved.ledger");
    const auto refused = writing.commit();
    ASSERT_FALSE(refused.ok());
    EXPECT_TRUE(says(refused.error(), "moved or replaced"));
}

TEST_F(Faults, FullDiskSaysSoAndKeepsWhatWasAcknowledged) {
    // SQLite answers a limit of pages as it answers a full disk: SQLITE_FULL.
    got(database_.script("PRAGMA max_page_count = 120"));
    std::vector<std::string> kept;
    std::optional<Error> error;
    for (std::uint64_t i = 0; i < 100 && !error; ++i) {
        auto writing = got(ledger::Writing::begin(database_));
        const auto put = ledger::put_segment(database_, noise(40'000, i), noon());
        const auto done = put.ok() ? writing.commit() : Result<Done>(put.error());
        if (done)
            kept.push_back(*put);
        else
            error = done.error();
    }
    ASSERT_TRUE(error);
    EXPECT_TRUE(says(*error, "the disk is full")) << error->text();
    EXPECT_GE(kept.size(), 3u);
    got(database_.script("PRAGMA max_page_count = 100000"));
    EXPECT_EQ(got(ledger::head(database_)).number, static_cast<std::int64_t>(kept.size()));
    EXPECT_EQ(damages(), "");
    keep("room again");
}

TEST_F(Faults, DiskThatTakesNoMoreSaysSo) {
    close();
    const int code = in_child([&] {
        // A write beyond the limit fails as on a full or over-quota disk.
        ::signal(SIGXFSZ, SIG_IGN);
        const rlimit limit{600'000, RLIM_INFINITY}, none{RLIM_INFINITY, RLIM_INFINITY};
        if (::setrlimit(RLIMIT_FSIZE, &limit) != 0) return 1;
        auto database = got(open("lab.ledger", Database::Access::write));
        for (std::uint64_t i = 0; i < 100; ++i) {
            auto writing = got(ledger::Writing::begin(database));
            const auto put = ledger::put_segment(database, noise(40'000, i), noon());
            const auto done = put.ok() ? writing.commit() : Result<Done>(put.error());
            if (done) continue;
            if (!says(done.error(), "disk") || i <= 2) return 2;
            break;
        }
        // With room again the same program goes on.
        if (::setrlimit(RLIMIT_FSIZE, &none) != 0) return 3;
        auto writing = ledger::Writing::begin(database);
        if (!writing || !ledger::put_segment(database, "room", noon()) || !writing->commit()) return 4;
        return got(ledger::check(database)).whole() ? 0 : 5;
    });
    EXPECT_EQ(code, 0);
    database_ = got(open("lab.ledger", Database::Access::write));
    EXPECT_EQ(damages(), "");
    EXPECT_GT(got(ledger::head(database_)).number, 2);
    keep("room again");
}

TEST_F(Faults, DamagedPageIsSaidNotRead) {
    fill();
    // The first page of every table, but for the one that names them.
    std::vector<std::size_t> pages;
    got(database_.each("SELECT rootpage FROM sqlite_schema WHERE type = 'table'", {},
                       [&](const ledger::Row& row) -> Result<Done> {
                           pages.push_back(static_cast<std::size_t>(row.integer(0)));
                           return Done{};
                       }));
    close();
    std::string bytes = bytes_of(path());
    for (const std::size_t page : pages) bytes.replace((page - 1) * 4096, 64, std::string(64, '\xa5'));
    write_bytes(path(), bytes);
    auto database = open("lab.ledger", Database::Access::read);
    ASSERT_TRUE(database.ok()) << "its first page is whole";
    const auto checked = ledger::check(*database);
    EXPECT_TRUE(!checked.ok() || !checked->whole());
    EXPECT_FALSE(ledger::restore(path(), folder_ / "restored.ledger").ok());
    EXPECT_FALSE(ledger::find(*database, {}).ok());
}

TEST_F(Faults, KilledWriterLosesNothingThatWasAcknowledged) {
    // 40 instants (200 with EBBTIDE_LONG), seed 41; each time a child writes runs with their segments until
    // it is killed.
    const int rounds = std::getenv("EBBTIDE_LONG") != nullptr ? 200 : 40;
    close();
    std::mt19937 random(41);
    std::size_t acknowledged = 0;
    for (int round = 0; round < rounds; ++round) {
        int ends[2];
        ASSERT_EQ(::pipe(ends), 0);
        const pid_t child = ::fork();
        if (child == 0) {
            auto database = ledger::open_ledger(path(), Database::Access::write);
            for (std::uint64_t i = 0; database && i < 2000; ++i) {
                auto writing = ledger::Writing::begin(*database);
                if (!writing) break;
                const auto key = static_cast<std::uint64_t>(round) << 32 | i;
                const auto segment = ledger::put_segment(*database, noise(3000, key), noon());
                const auto run = ledger::put_entry(
                    *database, run_of("TP-" + std::to_string(round), std::to_string(i)), noon());
                if (!segment || !run || !writing->commit()) break;
                if (::write(ends[1], &i, sizeof i) != sizeof i) break;
            }
            ::_exit(0);
        }
        ::close(ends[1]);
        // From the first acknowledgement on, so that a slow start costs no instant.
        std::uint64_t last = 0;
        ASSERT_EQ(::read(ends[0], &last, sizeof last), static_cast<ssize_t>(sizeof last)) << round;
        std::this_thread::sleep_for(std::chrono::microseconds(random() % 20'000));
        ::kill(child, SIGKILL);
        while (::read(ends[0], &last, sizeof last) == static_cast<ssize_t>(sizeof last)) {
        }
        ::close(ends[0]);
        int status = 0;
        ::waitpid(child, &status, 0);
        auto database = got(ledger::open_ledger(path(), Database::Access::write));
        const auto runs = got(ledger::levels_of(database, "TP-" + std::to_string(round)));
        // At most one more than was acknowledged: the one that was on the disk and not yet said.
        EXPECT_GE(runs.size(), last + 1) << round;
        EXPECT_LE(runs.size(), last + 2) << round;
        acknowledged += last + 1;
        if (round % 8 == 7) {
            const auto checked = got(ledger::check(database));
            EXPECT_TRUE(checked.whole()) << checked.damages.at(0).what;
            EXPECT_GE(checked.entries, static_cast<std::int64_t>(acknowledged));
        }
    }
}

}  // namespace
