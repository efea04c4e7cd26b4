// What is written stays: revisions, voids, segments, text of every kind.

#include "ledger/entries.hpp"

#include <fmt/format.h>

#include <bit>
#include <cmath>
#include <cstdlib>
#include <random>

#include "basis/sha256.hpp"
#include "ledger/find.hpp"
#include "ledger/invented_ledger.hpp"

namespace {

using namespace ebbtide;
using namespace ebbtide::testing_support;
using ledger::Kind;

using Entry = InventedLedger;
using Segment = InventedLedger;
using Text = InventedLedger;

TEST_F(Entry, IsCorrectedByARevisionWithWhoWhenAndWhy) {
    got(put(run_of("TP-1", "1", 0.412)));
    ledger::Draft correction = run_of("TP-1", "1", 0.402);
    const auto nameless = put(correction, noon(60));
    ASSERT_FALSE(nameless.ok());
    EXPECT_NE(nameless.error().text().find("--who"), std::string::npos);
    correction.who = "T. O.";
    EXPECT_FALSE(put(correction).ok()) << "a correction without a reason";
    correction.why = "gain of the sensor was misread";
    EXPECT_EQ(got(put(correction, noon(60))).revision, 2);

    const auto both = got(ledger::revisions(database_, Kind::run, "TP-1/1"));
    ASSERT_EQ(both.size(), 2u);
    EXPECT_NE(both[0].body.find("0.412"), std::string::npos) << "the first one stays as it was";
    EXPECT_NE(both[1].body.find("0.402"), std::string::npos);
    EXPECT_EQ(both[0].at, noon());
    EXPECT_EQ(both[1].at, noon(60));
    EXPECT_EQ(both[1].who, "T. O.");
    EXPECT_EQ(both[1].why, "gain of the sensor was misread");
    EXPECT_EQ(damages(), "");
}

TEST_F(Entry, IsVoidedNotRemoved) {
    fill();
    const ledger::Draft voided{Kind::run, "TP-1/2", "null", "I. M.", "specimen of another order", true};
    EXPECT_EQ(got(put(voided)).revision, 2);
    EXPECT_EQ(got(ledger::revisions(database_, Kind::run, "TP-1/2")).size(), 2u);
    EXPECT_EQ(got(ledger::levels_of(database_, "TP-1")).size(), 1u) << "a voided run is not found";
    EXPECT_FALSE(put(voided).ok()) << "voided twice";
    EXPECT_FALSE(put({Kind::run, "TP-1/9", "null", "I. M.", "never was", true}).ok());
    // It can come back, as a revision like any other.
    ledger::Draft back = run_of("TP-1", "2");
    back.who = "I. M.", back.why = "it was the right one";
    EXPECT_EQ(got(put(back)).revision, 3);
    EXPECT_EQ(got(ledger::levels_of(database_, "TP-1")).size(), 2u);
    EXPECT_EQ(damages(), "");
}

TEST_F(Entry, IsNeitherChangedNorRemovedByAnyStatement) {
    fill();
    const auto head = got(ledger::head(database_));
    for (const std::string table : {"entry", "segment", "link"}) {
        EXPECT_FALSE(database_.script("UPDATE " + table + " SET sha256 = 'x'").ok());
        EXPECT_FALSE(database_.script("DELETE FROM " + table).ok()) << table;
    }
    // Replacing a row removes it, by its number or by its name.
    EXPECT_FALSE(database_
                     .script("INSERT OR REPLACE INTO entry SELECT number, kind, id, revision, 'x', why, "
                             "voided, body, sha256 FROM entry LIMIT 1")
                     .ok());
    EXPECT_FALSE(database_
                     .script("INSERT OR REPLACE INTO entry SELECT 99, kind, id, revision, 'x', why, "
                             "voided, body, sha256 FROM entry LIMIT 1")
                     .ok());
    EXPECT_FALSE(
        database_.script("INSERT OR REPLACE INTO segment SELECT 99, sha256, 1, 'none', x'00' FROM segment")
            .ok());
    EXPECT_FALSE(
        database_.script("INSERT INTO link SELECT number + 9, at_ns, act, content, sha256 FROM link").ok());
    EXPECT_EQ(got(ledger::head(database_)).sha256, head.sha256);
    EXPECT_EQ(damages(), "");
}

TEST_F(Entry, IsWrittenOnceWhenItSaysTheSame) {
    for (int i = 0; i < 3; ++i) {
        auto writing = got(ledger::Writing::begin(database_));
        got(ledger::put_unless_there(database_, person("T. Okafor"), noon()));
        got(writing.commit());
    }
    EXPECT_EQ(got(ledger::head(database_)).number, 1);
}

TEST_F(Entry, OfABrokenWritingIsNotThere) {
    {
        auto writing = got(ledger::Writing::begin(database_));
        got(ledger::put_segment(database_, "lost", noon()));
        got(ledger::put_entry(database_, person("T. Okafor"), noon()));
    }
    EXPECT_EQ(got(ledger::head(database_)).number, 0);
    EXPECT_FALSE(got(ledger::has_segment(database_, sha256_hex("lost"))));
}

TEST_F(Entry, OfAKindThatIsSearchedHasWhatTheSearchNeeds) {
    for (const char* body :
         {"{}", "[]", "7", R"({"order":7})", R"({"figures":{"levels":[{}]}})", R"({"figures":[]})"})
        for (const Kind kind : {Kind::run, Kind::statement})
            EXPECT_FALSE(put({kind, "TP-1", body, "", "", false}).ok()) << body;
    for (const std::string& body :
         {std::string("{ }"), std::string(R"({"b":1,"a":2})"), std::string("1.50"), std::string("{"),
          std::string(), std::string(R"("\u0041")"), std::string(100'000, '['), std::string("null")})
        EXPECT_FALSE(put({Kind::person, "X", body, "", "", false}).ok())
            << body.substr(0, 40) << " is not canonical";
    EXPECT_EQ(got(ledger::head(database_)).number, 0);
}

TEST_F(Segment, IsKeptOnceUnderItsHash) {
    // FIPS 180-4 names SHA-256; the digest of "abc" is the example of NIST's "SHA-256 Example", one block.
    const std::string abc = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad";
    EXPECT_EQ(keep("abc"), abc);
    EXPECT_EQ(keep("abc", noon(5)), abc);
    EXPECT_EQ(got(ledger::head(database_)).number, 1);
    std::string every_byte;
    for (int i = 0; i < 100'000; ++i) every_byte += static_cast<char>(i * i >> 3);
    for (const std::string& bytes :
         {std::string(), std::string(1, '\0'), std::string(1 << 20, 'x'), every_byte})
        EXPECT_EQ(got(ledger::segment(database_, keep(bytes))), bytes);
    EXPECT_FALSE(ledger::segment(database_, std::string(64, '0')).ok());
    EXPECT_FALSE(ledger::segment(database_, "' OR 1 = 1 --").ok());
    EXPECT_EQ(damages(), "");
}

TEST_F(Segment, IsPackedWhereThatSavesRoom) {
    std::string mixed = noise(30'000, 2) + std::string(10'000, 'x');
    for (const auto& [bytes, packing] :
         {std::pair{noise(40'000, 1), "none"}, std::pair{mixed, "zstd"},
          std::pair{std::string(40'000, 'x'), "zstd"}, std::pair{std::string(100, 'x'), "zstd"}}) {
        const std::string sha256 = keep(bytes);
        EXPECT_EQ(got(database_.text("SELECT packing FROM segment WHERE sha256 = ?", {sha256})), packing);
        EXPECT_EQ(got(ledger::segment(database_, sha256)), bytes);
    }
}

TEST(Canonical, WritesTheFewestDigitsThatReadBackTheSame) {
    // repr() of Python 3.11 gives the same digits.
    for (const char* text : {"2.139608872568733", "436.3791154639176", "0.1", "0.30000000000000004", "5e-324",
                             "1.7976931348623157e+308", "1e-05", "1.5", "-0.0"})
        EXPECT_EQ(ledger::canonical_line(nlohmann::json(std::strtod(text, nullptr))).value(), text);
    EXPECT_EQ(ledger::canonical_line({{"b", 2.0}, {"a", {1, nullptr, true}}}).value(),
              R"({"a":[1,null,true],"b":2})");
    std::mt19937_64 random(5);
    for (int i = 0; i < 20'000; ++i) {
        const auto number = std::bit_cast<double>(random());
        if (!std::isfinite(number)) continue;
        const std::string line = ledger::canonical_line(nlohmann::json(number)).value();
        const auto again = ledger::parse_canonical(line);
        ASSERT_TRUE(again.ok()) << line;
        EXPECT_EQ(again->get<double>(), number) << line;
    }
}

/// Every character of Unicode but U+0000 and the surrogates, which are none.
std::string all_of_unicode() {
    std::string text;
    for (std::uint32_t c = 1; c <= 0x10ffff; ++c) {
        if (c >= 0xd800 && c <= 0xdfff) continue;
        const auto tail = [&](int shift) { text += static_cast<char>(0x80 | ((c >> shift) & 0x3f)); };
        if (c < 0x80) {
            text += static_cast<char>(c);
        } else if (c < 0x800) {
            text += static_cast<char>(0xc0 | (c >> 6)), tail(0);
        } else if (c < 0x10000) {
            text += static_cast<char>(0xe0 | (c >> 12)), tail(6), tail(0);
        } else {
            text += static_cast<char>(0xf0 | (c >> 18)), tail(12), tail(6), tail(0);
        }
    }
    return text;
}

TEST_F(Text, OfEveryKindComesBackByteForByte) {
    std::vector<std::string> texts{"'; DROP TABLE entry; --",
                                   "\" OR \"\" = \"",
                                   "Robert'); DELETE FROM link;--",
                                   "%s%n{}{0}\\u0000\\",
                                   "\",\"body\":{}",
                                   "line one\nline two\r\n\ttab\x1b[31m\x7f",
                                   " ",
                                   "\xef\xbb\xbf mark",
                                   std::string(1 << 20, 'n'),
                                   all_of_unicode()};
    for (std::size_t i = 0; i < texts.size(); ++i) {
        const std::string& text = texts[i];
        InventedOrder order;
        order.id = order.customer = order.material = order.lot = text;
        ledger::Draft draft = statement_of(order);
        draft.who = draft.why = text;
        got(put(draft));
        const auto entry = got(ledger::newest(database_, Kind::statement, text));
        ASSERT_TRUE(entry) << i;
        EXPECT_EQ(entry->id == text && entry->who == text && entry->why == text, true) << i;
        EXPECT_EQ(nlohmann::json::parse(entry->body)["customer"].get<std::string>() == text, true) << i;
        ledger::Query query;
        query.lot = text;
        const auto found = got(ledger::find(database_, query));
        const bool there = std::ranges::any_of(found, [&](const ledger::FoundOrder& one) {
            return one.order == text && one.customer == text && one.items.at(0).material == text;
        });
        EXPECT_TRUE(there) << i;
    }
    EXPECT_EQ(damages(), "");
}

TEST_F(Text, WithU0000OrWithoutUtf8IsRefusedByName) {
    // Ill-formed sequences after Unicode 15.0, table 3-7: lone and missing continuation bytes, overlong
    // forms, surrogates, beyond U+10FFFF.
    for (const std::string& wrong :
         {std::string("a\0b", 3), std::string("\x80"), std::string("\xc3"), std::string("\xc0\xaf"),
          std::string("\xe0\x80\xaf"), std::string("\xed\xa0\x80"), std::string("\xf0\x80\x80\xaf"),
          std::string("\xf4\x90\x80\x80"), std::string("\xff")}) {
        ledger::Draft draft = person("T. Okafor");
        draft.who = wrong;
        const auto refused = put(draft);
        ASSERT_FALSE(refused.ok());
        EXPECT_NE(refused.error().where.find("who"), std::string::npos) << refused.error().text();
        draft = person("T. Okafor");
        draft.id = wrong;
        EXPECT_FALSE(put(draft).ok());
        const auto line = ledger::canonical_line({{"customer", {{"name", wrong}}}});
        ASSERT_FALSE(line.ok());
        EXPECT_EQ(line.error().where, "/customer/name");
        EXPECT_FALSE(ledger::canonical_line({{wrong, 1}}).ok());
    }
    const auto zero = ledger::fault_of_text(std::string_view("\0", 1), "name");
    ASSERT_TRUE(zero);
    EXPECT_NE(zero->what.find("U+0000"), std::string::npos);
    // Escaped it would come in through the back door.
    EXPECT_FALSE(put({Kind::person, "X", "{\"name\":\"a\\u0000b\"}", "", "", false}).ok());
    EXPECT_EQ(got(ledger::head(database_)).number, 0);
}

}  // namespace
