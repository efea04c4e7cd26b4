// A ledger of any size comes in through bounded memory.

#include <gtest/gtest.h>
#include <sys/resource.h>
#include <sys/wait.h>

#include <iostream>

#include "ledger/archive.hpp"
#include "ledger/invented_ledger.hpp"

namespace {

using namespace ebbtide;
using namespace ebbtide::testing_support;

using BigExport = InventedLedger;

/// Peak memory of this process in MiB.
double peak_MiB() {
    rusage used{};
    ::getrusage(RUSAGE_SELF, &used);
    return static_cast<double>(used.ru_maxrss) / 1024;
}

TEST_F(BigExport, IsImportedLineByLine) {
#ifdef __SANITIZE_ADDRESS__
    GTEST_SKIP() << "the sanitizer keeps what was freed";
#endif
    // 12 MiB of entries: read whole, the list alone would take twice as much.
    constexpr int entries = 48;
    {
        auto writing = got(ledger::Writing::begin(database_));
        for (int i = 0; i < entries; ++i) {
            ledger::Draft draft = person("P " + std::to_string(i));
            draft.body =
                ledger::canonical_line({{"name", std::string(256 << 10, static_cast<char>('a' + i % 26))}})
                    .value();
            got(ledger::put_entry(database_, draft, noon(i)));
        }
        got(writing.commit());
    }
    got(ledger::export_to(database_, folder_ / "export"));
    const auto head = got(ledger::head(database_));
    // In a process of its own, whose peak is its own: that of this one is behind it.
    int ends[2];
    ASSERT_EQ(::pipe(ends), 0);
    const pid_t child = ::fork();
    if (child == 0) {
        const char* const directory = "export";
        std::filesystem::current_path(folder_.path());
        double grown = -1;
        {
            const double before = peak_MiB();
            auto database = ledger::create_ledger("second.ledger");
            const auto last =
                database ? ledger::import_from(directory, *database) : Result<ledger::Link>(database.error());
            if (last && last->sha256 == head.sha256) grown = peak_MiB() - before;
        }
        const ssize_t wrote = ::write(ends[1], &grown, sizeof grown);
        ::_exit(wrote == sizeof grown ? 0 : 1);
    }
    ::close(ends[1]);
    double grown = -1;
    EXPECT_EQ(::read(ends[0], &grown, sizeof grown), static_cast<ssize_t>(sizeof grown));
    ::close(ends[0]);
    ::waitpid(child, nullptr, 0);
    ASSERT_GE(grown, 0) << "not imported";
    std::cout << "[ memory   ] " << grown << " MiB more for a list of 12 MiB\n";
    EXPECT_LT(grown, 12);
}

}  // namespace
