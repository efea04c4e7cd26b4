// Containers that were cut, hit and gone on with: nothing wrong comes out, nothing whole is lost, and what is
// damaged is named in bytes.

#include <gtest/gtest.h>

#include <algorithm>
#include <cstdlib>
#include <random>

#include "recording/invented_container.hpp"
#include "support/program.hpp"

namespace ebbtide::recording {
namespace {

using namespace testing_support;
using container::RecordType;
using ebbtide::testing_support::bytes_of;
using ebbtide::testing_support::TemporaryFolder;
using ebbtide::testing_support::write_bytes;
using Kind = trace::Notice::Kind;

int times() {
    return std::getenv("EBBTIDE_LONG") != nullptr ? 2000 : 200;
}

/// "1,234" as a number.
std::uint64_t number_in(const std::string& text, const std::string& after) {
    const std::size_t at = text.find(after);
    if (at == std::string::npos) return UINT64_MAX;
    std::string digits;
    for (std::size_t i = at + after.size(); i < text.size() && (std::isdigit(text[i]) != 0 || text[i] == ',');
         ++i)
        if (text[i] != ',') digits += text[i];
    return digits.empty() ? UINT64_MAX : std::stoull(digits);
}

struct Range {
    std::uint64_t first = 0, last = 0;
};

/// The stretches of bytes that notices call damaged or torn.
std::vector<Range> named_bytes(const Reading& reading, std::uint64_t size) {
    std::vector<Range> named;
    for (const trace::Notice& notice : reading.notices) {
        if (notice.kind == Kind::torn_tail && notice.text.find("from byte") != std::string::npos)
            named.push_back({number_in(notice.text, "from byte "), size - 1});
        if (notice.kind != Kind::damaged) continue;
        if (const auto first = number_in(notice.text, "bytes "); first != UINT64_MAX)
            named.push_back({first, number_in(notice.text, " to ")});
        else if (const auto one = number_in(notice.text, "byte "); one != UINT64_MAX)
            named.push_back({one, one});
    }
    return named;
}

/// Everything that must come back when only these records are whole.
std::set<double> expected_of(const std::vector<Place>& places, const std::vector<bool>& whole) {
    std::set<double> expected;
    bool described = false;
    for (std::size_t i = 0; i < places.size(); ++i) {
        if (!whole[i]) continue;
        described = described || places[i].type == RecordType::description;
        if (places[i].type == RecordType::samples && described) expected.merge(samples_in(places[i]));
    }
    return expected;
}

bool includes(const std::set<double>& all, const std::set<double>& part) {
    return std::ranges::includes(all, part);
}

TEST(ContainerCut, AnywhereReadsBackAllThatIsWholeAndNamesTheTornBytes) {
    const std::string bytes = invented_container();
    const std::vector<Place> places = places_of(bytes);
    std::mt19937_64 random(20260914);
    for (int i = 0; i < times(); ++i) {
        // Some exactly between two records, the others anywhere.
        const std::uint64_t cut = i % 8 == 0 ? places[random() % places.size()].end : random() % bytes.size();
        SCOPED_TRACE(cut);
        const Reading reading = read(bytes.substr(0, cut));
        if (cut < places[0].end) {
            ASSERT_TRUE(reading.error) << "without a description there is nothing to read";
            EXPECT_FALSE(reading.error->remedy.empty());
            continue;
        }
        ASSERT_FALSE(reading.error) << reading.error->text();
        std::vector<bool> whole;
        std::uint64_t whole_until = 0;
        for (const Place& place : places) {
            whole.push_back(place.end <= cut);
            if (place.end <= cut) whole_until = place.end;
        }
        EXPECT_EQ(samples_of(reading), expected_of(places, whole));
        for (const Segment& segment : reading.segments)
            for (const ChannelBlock& channel : segment.channels) EXPECT_TRUE(is_gapless(channel));
        EXPECT_EQ(reading.count(Kind::damaged), 0u);
        if (cut == bytes.size()) continue;
        ASSERT_EQ(reading.count(Kind::torn_tail), 1u);
        const std::string& text = reading.first(Kind::torn_tail).text;
        if (cut > whole_until) {
            EXPECT_EQ(number_in(text, "the last "), cut - whole_until) << text;
            EXPECT_EQ(number_in(text, "from byte "), whole_until) << text;
        } else {
            EXPECT_NE(text.find("not closed"), std::string::npos) << text;
        }
    }
}

TEST(ContainerCut, AnywhereIsGoneOnWithAndLosesOnlyTheTornRecord) {
    const std::string bytes = invented_container();
    const std::vector<Place> places = places_of(bytes);
    const TemporaryFolder folder;
    const std::string path = folder / "live.ebbrec";
    std::mt19937_64 random(4);
    for (int i = 0; i < times(); ++i) {
        const std::uint64_t cut = i % 8 == 0 ? places[random() % places.size()].end : random() % bytes.size();
        SCOPED_TRACE(cut);
        write_bytes(path, bytes.substr(0, cut));
        const Reading before = read(bytes.substr(0, cut));
        auto gone = ContainerWriter::go_on(path);
        if (cut < places[0].end) {
            ASSERT_FALSE(gone.ok());
            EXPECT_EQ(bytes_of(path).size(), cut) << "what cannot be gone on with is left as it is";
            continue;
        }
        ASSERT_TRUE(gone.ok()) << gone.error().text();
        std::uint64_t whole_until = 0;
        for (const Place& place : places)
            if (place.end <= cut) whole_until = place.end;
        EXPECT_EQ(gone->bytes_cut, cut - whole_until);
        ASSERT_TRUE(gone->writer->block(invented_block(77, 0, 50)).ok());
        ASSERT_TRUE(gone->writer->block(invented_block(77, 50, 90)).ok());
        ASSERT_TRUE(gone->writer->finish({}).ok());
        gone->writer.reset();

        const Reading after = read(bytes_of(path));
        ASSERT_FALSE(after.error);
        std::set<double> expected = samples_of(before);
        for (const Block& block : {invented_block(77, 0, 90)})
            for (const ChannelBlock& channel : block.channels)
                expected.insert(channel.value.begin(), channel.value.end());
        EXPECT_EQ(samples_of(after), expected);
        EXPECT_EQ(after.count(Kind::damaged), 0u);
        EXPECT_EQ(after.segments.back().channels[0].value.size(), 90u) << "a segment of its own";
        if (cut > whole_until) {
            EXPECT_EQ(after.count(Kind::torn_tail), 1u);
            EXPECT_NE(after.first(Kind::torn_tail).text.find(std::to_string(cut - whole_until) + " bytes"),
                      std::string::npos);
        }
    }
}

/// One kind of damage: changes the bytes, and says which records are whole afterwards.
struct Damage {
    std::string bytes;
    std::vector<bool> whole;
    bool moves = false;  ///< whole records lie elsewhere now, so that not every changed byte is a damaged one
};

Damage flipped(const std::string& bytes, const std::vector<Place>& places, std::mt19937_64& random) {
    Damage damage{bytes, std::vector<bool>(places.size(), true)};
    for (std::uint64_t flips = 1 + random() % 3; flips > 0; --flips) {
        const std::size_t at =
            container::opening_bytes + random() % (bytes.size() - container::opening_bytes);
        damage.bytes[at] = static_cast<char>(damage.bytes[at] ^ (1 << random() % 8));
    }
    for (std::size_t i = 0; i < places.size(); ++i)
        damage.whole[i] = bytes.compare(places[i].begin, places[i].end - places[i].begin, damage.bytes,
                                        places[i].begin, places[i].end - places[i].begin) == 0;
    return damage;
}

/// A page of zeros, or of what stands elsewhere in the file.
Damage overwritten(const std::string& bytes, const std::vector<Place>& places, std::mt19937_64& random) {
    Damage damage{bytes, std::vector<bool>(places.size(), true)};
    const std::size_t page = 4096, pages = bytes.size() / page;
    const std::size_t at = (1 + random() % (pages - 1)) * page, from = random() % pages * page;
    damage.moves = random() % 2 == 0;
    damage.bytes.replace(at, page, damage.moves ? bytes.substr(from, page) : std::string(page, '\0'));
    for (std::size_t i = 0; i < places.size(); ++i)
        damage.whole[i] = bytes.compare(places[i].begin, places[i].end - places[i].begin, damage.bytes,
                                        places[i].begin, places[i].end - places[i].begin) == 0;
    return damage;
}

/// Between records or anywhere.
std::size_t any_place(const std::string& bytes, const std::vector<Place>& places, std::mt19937_64& random) {
    return random() % 2 == 0
               ? places[random() % places.size()].begin
               : container::opening_bytes + random() % (bytes.size() - container::opening_bytes);
}

Damage removed(const std::string& bytes, const std::vector<Place>& places, std::mt19937_64& random) {
    std::size_t from = any_place(bytes, places, random), to = any_place(bytes, places, random);
    if (from > to) std::swap(from, to);
    to = std::min(to, from + bytes.size() / 4);
    Damage damage{bytes, std::vector<bool>(places.size(), true), true};
    damage.bytes.erase(from, to - from);
    for (std::size_t i = 0; i < places.size(); ++i)
        damage.whole[i] = places[i].end <= from || places[i].begin >= to;
    return damage;
}

Damage repeated(const std::string& bytes, const std::vector<Place>& places, std::mt19937_64& random) {
    const std::size_t from = any_place(bytes, places, random), length = random() % (bytes.size() / 4);
    const std::size_t at = any_place(bytes, places, random);
    Damage damage{bytes, std::vector<bool>(places.size(), true), true};
    damage.bytes.insert(at, bytes.substr(from, length));
    for (std::size_t i = 0; i < places.size(); ++i)
        damage.whole[i] = places[i].end <= at || places[i].begin >= at;
    return damage;
}

TEST(ContainerDamage, GivesNoWrongSampleLosesNothingWholeAndIsNamedInBytes) {
    const std::string bytes = invented_container();
    const std::vector<Place> places = places_of(bytes);
    std::mt19937_64 random(17);
    int told = 0;
    for (int i = 0; i < times(); ++i) {
        const auto make =
            std::vector{flipped, overwritten, removed, repeated}[static_cast<std::size_t>(i) % 4];
        const Damage damage = make(bytes, places, random);
        SCOPED_TRACE(i);
        const Reading reading = read(damage.bytes);
        ASSERT_FALSE(reading.error) << reading.error->text();
        const std::set<double> got = samples_of(reading), expected = expected_of(places, damage.whole);
        EXPECT_TRUE(includes(got, expected)) << "read " << got.size() << " of " << expected.size();

        // What comes after a hole is a segment of its own. (Channels of different speed leave holes alike.)
        for (const Segment& segment : reading.segments)
            for (const ChannelBlock& channel : segment.channels) EXPECT_TRUE(is_gapless(channel));

        const std::vector<Range> named = named_bytes(reading, damage.bytes.size());
        const bool hit = std::ranges::find(damage.whole, false) != damage.whole.end();
        if (hit) {
            EXPECT_GT(reading.count(Kind::damaged) + reading.count(Kind::torn_tail), 0u);
        }
        if (damage.moves) continue;
        for (std::size_t at = 0; at < bytes.size(); ++at) {
            if (bytes[at] == damage.bytes[at]) continue;
            EXPECT_TRUE(
                std::ranges::any_of(named, [&](const Range& r) { return r.first <= at && at <= r.last; }))
                << "byte " << at << " was changed and is not named";
            ++told;
        }
    }
    EXPECT_GT(told, 1000) << "the damage did something";
}

TEST(ContainerDamage, OfOneRecordIsToldOfTheSamplesOnBothSides) {
    std::string bytes = invented_container();
    const std::vector<Place> places = places_of(bytes);
    // The second block of the second segment.
    std::size_t starts = 0, at = 0;
    while (starts < 2) starts += places[at++].type == RecordType::segment_start ? 1 : 0;
    while (places[at].type != RecordType::samples) ++at;
    const Place& hit = places[at + 1];
    bytes[hit.begin + 100] = static_cast<char>(bytes[hit.begin + 100] ^ 1);
    const Reading reading = read(bytes);
    ASSERT_EQ(reading.segments.size(), 6u);
    EXPECT_EQ(reading.segments[1].channels[0].value.size(), block_invented);
    EXPECT_EQ(reading.segments[2].channels[0].value.size(), (blocks_invented - 2) * block_invented);
    std::vector<trace::Notice> damaged;
    for (const trace::Notice& notice : reading.notices)
        if (notice.kind == Kind::damaged) damaged.push_back(notice);
    ASSERT_EQ(damaged.size(), 2u);
    EXPECT_EQ(damaged[0].text, damaged[1].text) << "the same damage, seen from both sides";
    EXPECT_EQ(number_in(damaged[0].text, "bytes "), hit.begin) << damaged[0].text;
    EXPECT_EQ(number_in(damaged[0].text, " to "), hit.end - 1) << damaged[0].text;
    EXPECT_NE(damaged[0].text.find("missing"), std::string::npos) << damaged[0].text;
    EXPECT_EQ(damaged[0].time_s, time_of(0, block_invented - 1));
    EXPECT_EQ(damaged[1].time_s, time_of(0, 2 * block_invented));
}

TEST(ContainerDamage, BetweenWholeRecordsThatFollowEachOtherLosesNothing) {
    std::string bytes = invented_container();
    const std::uint64_t at = places_of(bytes)[6].begin;
    bytes.insert(at, "xyz");
    const Reading reading = read(bytes);
    EXPECT_EQ(reading.segments.size(), static_cast<std::size_t>(segments_invented));
    EXPECT_EQ(samples_of(reading), samples_of(read(invented_container())));
    EXPECT_EQ(number_in(reading.first(Kind::damaged).text, "bytes "), at);
}

}  // namespace
}  // namespace ebbtide::recording
