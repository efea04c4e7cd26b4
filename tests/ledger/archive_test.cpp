// Out and in again: exports, backups, restores. Whatever is changed on the way is found.

#include "ledger/archive.hpp"

#include <fmt/format.h>

#include <random>

#include "basis/sha256.hpp"
#include "ledger/audit.hpp"
#include "ledger/backup.hpp"
#include "ledger/find.hpp"
#include "ledger/invented_ledger.hpp"

namespace {

using namespace ebbtide;
using namespace ebbtide::testing_support;

namespace fs = std::filesystem;

class Archive : public InventedLedger {
  protected:
    void SetUp() override {
        InventedOrder hostile;
        hostile.id = "TP-2 \",\"body\":{} \n\x01";
        hostile.customer = "'; DROP TABLE entry; --";
        fill();
        fill(hostile);
        ledger::Draft correction = run_of("TP-1", "2", 0.4);
        correction.who = "T. O.", correction.why = "\",\"body\":null}";
        got(put(correction, noon(-9)));
        got(put({ledger::Kind::run, "TP-1/1", "null", "T. O.", "copied twice", true}));
        got(put(check_of("opening", "2026-09-15T06:20:00Z")));
    }
    [[nodiscard]] std::string exported() {
        const std::string directory = folder_ / "exported";
        if (!fs::exists(directory)) got(ledger::export_to(database_, directory));
        return directory;
    }
    Result<ledger::Link> imported(const std::string& directory, const std::string& name) {
        auto database = got(ledger::create_ledger(folder_ / name));
        auto head = ledger::import_from(directory, database);
        if (head) {
            const auto checked = got(ledger::check(database));
            EXPECT_TRUE(checked.whole()) << checked.damages.at(0).what;
        } else {
            EXPECT_EQ(got(ledger::head(database)).number, 0) << "half of an export was imported";
        }
        return head;
    }
    std::map<std::string, std::string> files_of(const std::string& directory) {
        std::map<std::string, std::string> files;
        for (const auto& file : fs::recursive_directory_iterator(directory))
            if (file.is_regular_file())
                files[file.path().lexically_relative(directory)] = bytes_of(file.path());
        return files;
    }
};

TEST_F(Archive, ComesBackWithTheSameHead) {
    const auto head = got(ledger::head(database_));
    EXPECT_EQ(got(imported(exported(), "second.ledger")).sha256, head.sha256);
    // And once more: export of the import is the export, byte for byte.
    auto second = got(ledger::open_ledger(folder_ / "second.ledger", ledger::Database::Access::read));
    got(ledger::export_to(second, folder_ / "again"));
    EXPECT_EQ(files_of(folder_ / "again"), files_of(exported()));
    EXPECT_EQ(got(ledger::levels_of(second, "TP-1")).size(), 1u);
}

TEST_F(Archive, IsReadByGeneralPrograms) {
    // sha256sum of GNU coreutils and a JSON reader other than the one that wrote it would do the same.
    const std::string command = "cd '" + exported() + "' && sha256sum --strict --quiet -c SHA256SUMS";
    EXPECT_EQ(std::system(command.c_str()), 0);
    std::istringstream lines(bytes_of(exported() + "/entries.jsonl"));
    std::size_t count = 0;
    for (std::string line; std::getline(lines, line); ++count) {
        const auto entry = nlohmann::json::parse(line);
        const std::size_t at = line.find("\"body\":") + 7;
        EXPECT_EQ(sha256_hex(line.substr(at, line.size() - at - 1)), entry["sha256"]) << line;
    }
    EXPECT_EQ(count, 9u);
}

TEST_F(Archive, HasEveryResultAsALineOfCsv) {
    // Python's csv module reads RFC 4180 without knowing our columns.
    write_bytes(folder_ / "read.py",
                "import csv, sys\n"
                "rows = list(csv.DictReader(open(sys.argv[1], newline='', encoding='utf-8')))\n"
                "for r in rows: print(repr((r['order_id'], r['customer'], r['run_id'], r['level'], "
                "r['decay_s'], r['u_decay_s'], r['at_least_s'], r['counts'], r['tested_to'])))\n"
                "print(len(rows), len(rows[0]))\n");
    const std::string command = "python3 '" + (folder_ / "read.py") + "' '" + exported() +
                                "/results.csv' > '" + (folder_ / "out") + "'";
    ASSERT_EQ(std::system(command.c_str()), 0);
    const std::string rows = bytes_of(folder_ / "out");
    EXPECT_NE(rows.find("('TP-1', 'Ropewalk Cloth Mill', '2', '0.1', '0.4', '0.021', '', '1', '2026-09-18')"),
              std::string::npos)
        << rows;
    EXPECT_NE(rows.find(R"(('TP-2 ","body":{} \n\x01', "'; DROP TABLE entry; --", '1', '0.1', '0.412')"),
              std::string::npos)
        << rows;
    EXPECT_EQ(rows.find("('TP-1', 'Ropewalk Cloth Mill', '1'"), std::string::npos)
        << "a voided run: " << rows;
    EXPECT_NE(rows.find("\n3 30\n"), std::string::npos) << rows;
}

TEST_F(Archive, WithAnyOneBitFlippedIsRefused) {
    const auto files = files_of(exported());
    std::vector<std::pair<std::string, std::size_t>> bits;
    std::mt19937_64 random(23);
    std::size_t total = 0;
    for (const auto& [name, bytes] : files) total += bytes.size();
    for (int i = 0; i < 300; ++i) {
        // Half of the positions in the lists, which the segments outweigh.
        const bool in_list = i % 2 == 0;
        for (;;) {
            std::size_t at = random() % total;
            auto file = files.begin();
            while (at >= file->second.size()) at -= (file++)->second.size();
            if (in_list == file->first.starts_with("segments/")) continue;
            bits.emplace_back(file->first, at * 8 + random() % 8);
            break;
        }
    }
    auto database = got(ledger::create_ledger(folder_ / "flipped.ledger"));
    for (const auto& [name, bit] : bits) {
        std::string bytes = files.at(name);
        bytes[bit / 8] = static_cast<char>(bytes[bit / 8] ^ (1 << (bit % 8)));
        write_bytes(exported() + "/" + name, bytes);
        const auto refused = ledger::import_from(exported(), database);
        EXPECT_FALSE(refused.ok()) << name << ", bit " << bit;
        write_bytes(exported() + "/" + name, files.at(name));
    }
    EXPECT_TRUE(ledger::import_from(exported(), database).ok()) << "the untouched export";
}

TEST_F(Archive, WithSumsWrittenAnewIsStillRefused) {
    // Whoever changes a list and the sums is found out by the chain.
    const auto files = files_of(exported());
    const auto with = [&](const std::string& name, const std::string& from, const std::string& to) {
        std::string text = files.at(name);
        const std::size_t at = text.find(from);
        EXPECT_NE(at, std::string::npos) << from;
        write_bytes(exported() + "/" + name, text.replace(at, from.size(), to));
        const std::string sums =
            "cd '" + exported() +
            "' && find . -type f ! -name SHA256SUMS -printf '%P\\n' | LC_ALL=C sort | "
            "xargs sha256sum > sums && mv sums SHA256SUMS && sed -i '/  sums$/d' SHA256SUMS";
        EXPECT_EQ(std::system(sums.c_str()), 0);
        const auto result = imported(exported(), fmt::format("{}.ledger", sha256_hex(to).substr(0, 8)));
        for (const auto& [file, bytes] : files) write_bytes(exported() + "/" + file, bytes);
        return result;
    };
    for (const auto& [name, from, to] :
         {std::tuple{"entries.jsonl", "0.412", "0.312"},
          std::tuple{"entries.jsonl", "\"why\":\"\"", "\"why\":\"x\""},
          std::tuple{"entries.jsonl", "\"kind\":\"run\"", "\"kind\":\"order\""},
          std::tuple{"entries.jsonl", "\"number\":3", "\"number\":4"},
          std::tuple{"entries.jsonl", "\"voided\":false", "\"voided\":0"},
          std::tuple{"audit.jsonl", "\"act\":\"entry\"", "\"act\":\"segment\""},
          std::tuple{"audit.jsonl", "\"at_ns\":17", "\"at_ns\":18"},
          std::tuple{"audit.jsonl", "\"content\":\"", "\"content\":\"../"},
          std::tuple{"audit.jsonl", "\"sha256\":\"", "\"sha256\":\"0"},
          std::tuple{"ledger.json", "ebbtide.ledger/1", "ebbtide.ledger/2"},
          std::tuple{"ledger.json", "\"head\":\"", "\"head\":\"0"}}) {
        const auto refused = with(name, from, to);
        EXPECT_FALSE(refused.ok()) << name << ": " << to;
    }
    EXPECT_TRUE(with("ledger.json", "ebbtide.ledger/1", "ebbtide.ledger/1").ok()) << "nothing changed";
}

TEST_F(Archive, WithAFileMoreOrLessIsRefused) {
    write_bytes(exported() + "/segments/more", "");
    EXPECT_FALSE(imported(exported(), "1.ledger").ok());
    fs::remove(exported() + "/segments/more");
    fs::remove(exported() + "/SHA256SUMS");
    EXPECT_FALSE(imported(exported(), "2.ledger").ok());
    EXPECT_FALSE(imported(folder_ / "no such directory", "3.ledger").ok());
}

TEST_F(Archive, IsNeverWrittenOverAnything) {
    (void)exported();
    EXPECT_FALSE(ledger::export_to(database_, exported()).ok());
    EXPECT_FALSE(ledger::import_from(exported(), database_).ok()) << "two chains in one ledger";
    got(ledger::back_up(database_, folder_ / "backup"));
    EXPECT_FALSE(ledger::back_up(database_, folder_ / "backup").ok());
    EXPECT_FALSE(ledger::restore(folder_ / "backup", path()).ok());
    EXPECT_FALSE(ledger::back_up(database_, folder_ / "no such folder/backup").ok());
    EXPECT_EQ(damages(), "");
}

TEST_F(Archive, BackupIsOneStateWhileOthersWrite) {
    auto other = got(ledger::open_ledger(path(), ledger::Database::Access::write));
    auto writing = got(ledger::Writing::begin(other));
    got(ledger::put_entry(other, person("not yet acknowledged"), noon()));
    got(ledger::back_up(database_, folder_ / "backup"));
    got(writing.commit());
    const auto restored = got(ledger::restore(folder_ / "backup", folder_ / "restored.ledger"));
    EXPECT_EQ(restored.entries, 9);
    auto copy = got(ledger::open_ledger(folder_ / "restored.ledger", ledger::Database::Access::write));
    EXPECT_EQ(got(ledger::revisions(copy, ledger::Kind::run, "TP-1/2")).size(), 2u);
    // It goes on like any other.
    auto more = got(ledger::Writing::begin(copy));
    got(ledger::put_entry(copy, person("T. Okafor"), noon()));
    got(more.commit());
    EXPECT_TRUE(got(ledger::check(copy)).whole());
}

TEST_F(Archive, DamagedBackupIsNotRestored) {
    got(ledger::back_up(database_, folder_ / "backup"));
    std::string bytes = bytes_of(folder_ / "backup");
    const std::size_t at = bytes.find("0.398");
    ASSERT_NE(at, std::string::npos);
    bytes[at] = '1';
    write_bytes(folder_ / "backup", bytes);
    EXPECT_FALSE(ledger::restore(folder_ / "backup", folder_ / "restored.ledger").ok());
    EXPECT_FALSE(fs::exists(folder_ / "restored.ledger"));
}

}  // namespace
