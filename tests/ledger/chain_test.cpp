// The chain of hashes, and what a check finds when something was changed outside of the program.

#include <fmt/format.h>

#include <random>

#include "basis/sha256.hpp"
#include "ledger/checks.hpp"
#include "ledger/find.hpp"
#include "ledger/invented_ledger.hpp"
#include "ledger/materials.hpp"
#include "ledger/trend.hpp"

namespace {

using namespace ebbtide;
using namespace ebbtide::testing_support;

using Chain = InventedLedger;
using Check = InventedLedger;
using Schema = InventedLedger;

TEST_F(Chain, IsWorkedOutFromWhatItsDocumentSays) {
    const std::string segment = keep("0,1\n", noon());
    ledger::Draft draft = person("Th\xc3\xa9r\xc3\xa8se \"T.\" Okafor\n");
    draft.who = "I. M.";
    got(put(draft, noon(1.5)));
    // docs/formats/ledger.md, "How the chain is checked", by hand; noon is 1,795,608,000 s after 1970.
    const std::string zeros(64, '0');
    const std::string first = sha256_hex(zeros + "\n1\n1795608000000000000\nsegment\n" + segment + "\n");
    const std::string body = "{\"name\":\"Th\xc3\xa9r\xc3\xa8se \\\"T.\\\" Okafor\\n\"}";
    const std::string content =
        sha256_hex("[\"person\",\"Th\xc3\xa9r\xc3\xa8se \\\"T.\\\" Okafor\\n\",1,\"I. M.\",\"\",false,\"" +
                   sha256_hex(body) + "\"]");
    const std::string second = sha256_hex(first + "\n2\n1795608001500000000\nentry\n" + content + "\n");
    EXPECT_EQ(got(ledger::head(database_)).sha256, second);
    EXPECT_EQ(got(database_.text("SELECT sha256 FROM link WHERE number = 1")), first);
}

TEST_F(Chain, FollowsItsNumbersWhenTheClockIsSetBack) {
    got(put(person("T. Okafor"), noon()));
    got(put(person("I. Marsh"), noon(-3600)));
    got(put(person("R. Aldous"), noon(60)));
    const auto checked = got(ledger::check(database_));
    EXPECT_TRUE(checked.whole());
    EXPECT_EQ(checked.head.number, 3);
    ASSERT_EQ(checked.notes.size(), 1u);
    EXPECT_NE(checked.notes[0].find("link 2 is dated 2026-11-25T11:00:00Z"), std::string::npos)
        << checked.notes[0];
    EXPECT_NE(checked.notes[0].find("set back"), std::string::npos);
}

TEST_F(Check, FindsWhatWasChangedOutside) {
    const std::vector<std::pair<std::string, std::string>> changes{
        {"UPDATE entry SET body = replace(body, '0.412', '0.312') WHERE number = 3", "body"},
        {"UPDATE entry SET who = 'nobody' WHERE number = 4", "what link 4 stands for was changed"},
        {"UPDATE entry SET voided = 1 WHERE number = 4", "what link 4 stands for was changed"},
        {"UPDATE entry SET kind = 'order' WHERE number = 4", "what link 4 stands for was changed"},
        {"UPDATE entry SET kind = 'ordeal' WHERE number = 4", "no kind"},
        {"UPDATE entry SET revision = 7 WHERE number = 4", "what link 4 stands for was changed"},
        {"DELETE FROM entry WHERE number = 4", "what link 4 stands for is gone"},
        {"INSERT INTO entry SELECT 77, kind, id || 'x', 1, who, why, voided, body, sha256 FROM entry LIMIT 1",
         "entry 77 has no link"},
        {"UPDATE segment SET packed = x'00' WHERE number = 2", "does not unpack"},
        {"UPDATE segment SET bytes = 1000000000000 WHERE number = 2", "says that it holds"},
        {"UPDATE segment SET packing = 'none' WHERE number = 2", "holds other bytes"},
        {"UPDATE segment SET sha256 = 'x' WHERE number = 2", "link 2"},
        {"DELETE FROM segment WHERE number = 2", "what link 2 stands for is gone"},
        {"UPDATE link SET at_ns = at_ns + 1 WHERE number = 3", "link 3 does not hash"},
        {"UPDATE link SET sha256 = 'x' WHERE number = 3", "link 4 does not hash"},
        {"UPDATE link SET act = 'segment' WHERE number = 3", "link 3"},
        {"DELETE FROM link WHERE number = 3", "link 4 follows link 2"},
        {"DELETE FROM link WHERE number = 5", "entry 5 has no link"},
        {"DROP TRIGGER entry_kept", "trigger entry_kept is gone"},
        {"DROP VIEW found_result", "view found_result is gone"}};
    for (const auto& [change, said] : changes) {
        const TemporaryFolder folder;
        database_ = got(ledger::create_ledger(folder / "changed.ledger"));
        fill();
        ASSERT_EQ(damages(), "");
        // Whoever can write the file can take the triggers away, and put them back.
        std::vector<std::string> triggers;
        got(database_.each("SELECT sql FROM sqlite_schema WHERE type = 'trigger'", {},
                           [&](const ledger::Row& row) -> Result<Done> {
                               triggers.push_back(row.text(0));
                               return Done{};
                           }));
        const bool of_schema = change.starts_with("DROP");
        if (!of_schema)
            for (const std::string& trigger : triggers)
                got(database_.script("DROP TRIGGER " + trigger.substr(15, trigger.find(' ', 15) - 15)));
        got(database_.script(change));
        if (!of_schema)
            for (const std::string& trigger : triggers) got(database_.script(trigger));
        const std::string text = damages();
        EXPECT_NE(text.find(said), std::string::npos) << change << "\n" << text;
        EXPECT_NE(text.find("backup"), std::string::npos) << "advice is missing: " << change;
    }
}

TEST_F(Check, OfAFileWithAFlippedBitFindsItOrNothingIsLost) {
    fill();
    const auto head = got(ledger::head(database_));
    database_ = got(ledger::Database::in_memory());  // closed
    const std::string sound = bytes_of(path());
    std::mt19937_64 random(17);
    int found = 0;
    for (int i = 0; i < 150; ++i) {
        const TemporaryFolder folder;
        std::string bytes = sound;
        const std::size_t bit = random() % (bytes.size() * 8);
        bytes[bit / 8] = static_cast<char>(bytes[bit / 8] ^ (1 << (bit % 8)));
        write_bytes(folder / "flipped.ledger", bytes);
        auto database = ledger::open_ledger(folder / "flipped.ledger", ledger::Database::Access::read);
        if (!database) {
            EXPECT_NE(database.error().remedy, "");
            ++found;
            continue;
        }
        const auto checked = ledger::check(*database);
        if (!checked || !checked->whole()) {
            ++found;
            continue;
        }
        // A bit of a page's unused part: then all that was written reads as it was.
        EXPECT_EQ(checked->head.sha256, head.sha256) << "bit " << bit;
        EXPECT_EQ(checked->entries + checked->segments, head.number) << "bit " << bit;
    }
    EXPECT_GT(found, 0);
}

/// A ledger as the version of its time wrote it, never again: two standing runs of TP-1, their statement, and
/// more.
struct OldLedger {
    std::int64_t schema = 0;
    std::int64_t entries = 0, segments = 0;
    std::string golden_head;
    std::size_t series = 0;            ///< of the trend
    std::size_t checks = 0;            ///< bench checks that are entries
    std::vector<std::string> checked;  ///< orders that rest on a bench check
};

void expect_as_it_was(const OldLedger& kept, ledger::Database::Access access) {
    const std::string file =
        fmt::format(EBBTIDE_SOURCE_DIR "/tests/ledger/files/schema-{}.ledger", kept.schema);
    ASSERT_TRUE(std::filesystem::exists(file)) << file;
    const TemporaryFolder folder;
    std::filesystem::copy_file(file, folder / "old.ledger");
    std::filesystem::permissions(folder / "old.ledger", std::filesystem::perms(0644));
    const bool writes = access == ledger::Database::Access::write;
    auto old = got(ledger::open_ledger(folder / "old.ledger", access));
    EXPECT_EQ(got(ledger::schema_of(old)), writes ? ledger::newest_schema : kept.schema);
    const auto checked = got(ledger::check(old));
    EXPECT_TRUE(checked.whole()) << checked.damages.at(0).what;
    EXPECT_EQ(checked.entries, kept.entries);
    EXPECT_EQ(checked.segments, kept.segments);
    EXPECT_EQ(checked.head.sha256, kept.golden_head);
    EXPECT_EQ(got(ledger::levels_of(old, "TP-1")).size(), 2u);
    EXPECT_EQ(got(ledger::materials(old)).at(0).times, 2);
    // Schema 2 brought the trend: the same whether it was filled on opening or is worked out on asking.
    const auto trend = got(ledger::trend(old, {}));
    ASSERT_EQ(trend.size(), kept.series);
    EXPECT_EQ(trend[0].periods.at(0).times, 2);
    // Schema 3 brought the bench checks that statements rest on. None was an entry before.
    EXPECT_EQ(got(ledger::find_checks(old, {})).size(), kept.checks);
    ledger::Query query;
    query.check = "opening";
    const auto found = ledger::find(old, query);
    if (!writes && kept.schema < 3) {
        ASSERT_FALSE(found.ok()) << "it cannot tell, and says so";
        EXPECT_NE(found.error().remedy, "");
        return;
    }
    std::vector<std::string> orders;
    for (const ledger::FoundOrder& order : got(found)) orders.push_back(order.order);
    EXPECT_EQ(orders, kept.checked);
    if (!writes) return;
    // Schema 4 lays runs by their orders. What is withdrawn from here on goes there too.
    auto writing = got(ledger::Writing::begin(old));
    got(ledger::put_entry(old, {ledger::Kind::run, "TP-1/2", "null", "T. O.", "wrong specimen", true},
                          noon()));
    got(writing.commit());
    EXPECT_EQ(got(ledger::levels_of(old, "TP-1")).size(), 1u);
    EXPECT_TRUE(got(ledger::check(old)).whole());
}

TEST(OldLedgers, OfEverySchemaAreReadAndBroughtUp) {
    const std::vector<OldLedger> all{
        // By version 0.1.0 of 2026-11-25: a person, two runs, their statement, two segments.
        {1, 4, 2, "d43f2becdc69e84d4b4d323ad1d696b82a8efb99e89859ca162e412a689e3488", 1, 0, {}},
        // By version 0.1.0 of 2026-11-26: a person, a bench, three runs of which one was withdrawn, their
        // statement, which rests on a bench check, a transcribed time, two segments.
        {2, 8, 2, "40f6826948b014fe101ab5a788330065181b538880e63a3af3cec76c2b942c36", 2, 0, {"TP-1"}},
        // By version 0.1.0 of 2026-11-26: a person, a bench check, four runs of two orders, one of them
        // withdrawn, both statements, of which one rests on the check, a transcribed time, two segments.
        {3, 10, 2, "290b812066c504be0c77063a05810fe62b894c73bd9827ed468236727d0760d7", 3, 1, {"TP-1"}}};
    EXPECT_EQ(static_cast<std::int64_t>(all.size()) + 1, ledger::newest_schema) << "an old file is missing";
    for (const OldLedger& kept : all)
        for (const auto access : {ledger::Database::Access::read, ledger::Database::Access::write}) {
            SCOPED_TRACE(fmt::format("schema {}, {}", kept.schema,
                                     access == ledger::Database::Access::read ? "read" : "written"));
            expect_as_it_was(kept, access);
        }
}

TEST_F(Schema, IsThatOfTheDocument) {
    EXPECT_EQ(got(database_.number("PRAGMA application_id")), 1161970260);
    EXPECT_EQ(got(database_.number("PRAGMA user_version")), 4);
    EXPECT_EQ(got(database_.number("PRAGMA page_size")), 4096);
    EXPECT_EQ(got(database_.text("PRAGMA journal_mode")), "wal");
    EXPECT_EQ(got(database_.number("PRAGMA synchronous")), 2) << "2 is FULL";
    // SQLite itself says what lies in the header: bytes 68 to 71 are the application id, 60 to 63 the user
    // version, both big-endian (Database File Format, 1.3).
    got(database_.script("PRAGMA wal_checkpoint(TRUNCATE)"));
    const std::string bytes = bytes_of(path());
    EXPECT_EQ(bytes.substr(0, 16), std::string("SQLite format 3\0", 16));
    EXPECT_EQ(bytes.substr(68, 4), "EBBT");
    EXPECT_EQ(bytes.substr(60, 4), std::string("\0\0\0\4", 4));
    // Every column stands in the document.
    const std::string document = bytes_of(EBBTIDE_SOURCE_DIR "/docs/formats/ledger.md");
    got(database_.each(
        "SELECT m.name, p.name FROM sqlite_schema m, pragma_table_info(m.name) p "
        "WHERE m.type = 'table'",
        {}, [&](const ledger::Row& row) -> Result<Done> {
            EXPECT_NE(document.find("**" + row.text(0) + "**"), std::string::npos) << row.text(0);
            EXPECT_NE(document.find("`" + row.text(1) + "`"), std::string::npos) << row.text(1);
            return Done{};
        }));
}

}  // namespace
