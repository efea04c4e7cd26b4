// Records of good checksum that break a rule of the format, or lie elsewhere than they were written: each has
// its notice, and no sample is lost or wrong.

#include <gtest/gtest.h>

#include <limits>

#include "recording/invented_container.hpp"
#include "recording/record_order.hpp"

namespace ebbtide::recording {
namespace {

using namespace testing_support;
using container::RecordType;
using Kind = trace::Notice::Kind;

/// The container with a record of good checksum put in after the fourth, and all that follow renumbered.
std::string with_record(RecordType type, const std::string& payload, std::size_t after = 4) {
    const std::string bytes = invented_container();
    std::string out = bytes.substr(0, container::opening_bytes);
    std::uint64_t number = 0;
    for (const Place& place : places_of(bytes)) {
        if (number == after) out += container::record(type, number++, payload);
        out += container::record(place.type, number++, place.payload);
    }
    return out;
}

/// Read so, one notice of damage names the rule, and no sample is lost or wrong.
void expect_rule(const std::string& bytes, const std::string& rule) {
    SCOPED_TRACE(rule);
    const Reading reading = read(bytes);
    ASSERT_FALSE(reading.error);
    ASSERT_GE(reading.count(Kind::damaged), 1u);
    EXPECT_NE(reading.first(Kind::damaged).text.find(rule), std::string::npos)
        << reading.first(Kind::damaged).text;
    EXPECT_EQ(samples_of(reading), samples_of(read(invented_container())));
}

std::string samples(const Block& block) {
    std::vector<container::Stretch> all;
    for (const ChannelBlock& channel : block.channels) all.push_back({0, channel.value.size()});
    return container::samples_payload(block.channels, all);
}

TEST(ContainerRule, ChannelsAreThoseOfTheDescription) {
    Block block = invented_block(0, 60, 120);
    block.channels.pop_back();
    expect_rule(with_record(RecordType::samples, samples(block)), "channels of the description");
}

TEST(ContainerRule, SamplesAreAsLongAsTheySay) {
    const std::string payload = samples(invented_block(0, 60, 120));
    for (const std::size_t length : {std::size_t{0}, std::size_t{7}, std::size_t{12}, payload.size() - 1})
        expect_rule(with_record(RecordType::samples, payload.substr(0, length)),
                    "as long as its channels say");
    expect_rule(with_record(RecordType::samples, payload + "x"), "as long as its channels say");
    std::string endless = payload;
    endless.replace(8, 4, "\xFF\xFF\xFF\xFF");
    expect_rule(with_record(RecordType::samples, endless), "as long as its channels say");
    std::string shared = payload;
    shared.replace(12, 4, std::string("\x02\0\0\0", 4));
    expect_rule(with_record(RecordType::samples, shared), "shared with an earlier channel");
}

TEST(ContainerRule, SamplesAreFinite) {
    for (const double number :
         {std::numeric_limits<double>::quiet_NaN(), std::numeric_limits<double>::infinity()}) {
        Block block = invented_block(0, 60, 120);
        block.channels[1].value[3] = number;
        expect_rule(with_record(RecordType::samples, samples(block)), "finite");
    }
}

TEST(ContainerRule, TimesDoNotDecrease) {
    Block block = invented_block(0, 60, 120);
    std::swap(block.channels[0].time_s[3], block.channels[0].time_s[4]);
    expect_rule(with_record(RecordType::samples, samples(block)), "times do not decrease");
    // Nor from one record to the next: the first block once more, as another record, is the same time again.
    block = invented_block(0, 0, 60);
    block.channels[0].time_s[0] = -1;
    expect_rule(with_record(RecordType::samples, samples(block), 5), "times do not decrease");
}

TEST(ContainerRule, JsonIsOfItsShape) {
    for (const char* text : {"", "{", "[]", "5", "{\"kind\": 5}", "{\"kind\": \"no such\"}"})
        expect_rule(with_record(RecordType::notice, text), "a notice is of a known kind");
    for (const char* text : {"", "[]"}) expect_rule(with_record(RecordType::end, text), "an end is");
    for (const char* text : {"", "{}", "{\"schema\": \"ebbtide.container/2\"}"})
        expect_rule(with_record(RecordType::description, text), "a description says");
    for (const char* channels : {"5", "[]"})
        expect_rule(with_record(RecordType::description, std::string("{\"schema\": \"ebbtide.container/1\", "
                                                                     "\"channels\": ") +
                                                             channels + "}"),
                    "lists its channels");
    expect_rule(
        with_record(RecordType::description, "{\"schema\": \"ebbtide.container/1\", \"channels\": [5]}"),
        "a channel is an object");
    expect_rule(with_record(RecordType::description,
                            "{\"schema\": \"ebbtide.container/1\", \"channels\": [{}], "
                            "\"origin\": \"yesterday\"}"),
                "an instant");
}

TEST(ContainerRule, TheDescriptionDoesNotChange) {
    container::Contents other{invented_description(), false};
    other.about.channels[0].factor_to_SI = 1;
    expect_rule(with_record(RecordType::description, container::description_payload(other, true)),
                "does not change");
}

TEST(ContainerRule, ARunStandsBeforeItsSamplesAndLiesWithinThem) {
    KeptRun run;
    run.span = {0, 1, 2, 3, 40, false, 0, 1, 5};
    expect_rule(with_record(RecordType::run, container::run_payload(run)), "before the samples");
    run.span.last_high = 41;
    expect_rule(with_record(RecordType::run, container::run_payload(run)), "lie within it");
    run.span.last_high = 2;
    run.span.sign = 0;
    expect_rule(with_record(RecordType::run, container::run_payload(run)), "a height and a sign");
    run.span.sign = 1;
    run.top = std::numeric_limits<double>::infinity();
    expect_rule(with_record(RecordType::run, container::run_payload(run)), "finite");
    expect_rule(with_record(RecordType::run, "short"), "88 bytes");
}

TEST(ContainerReading, SkipsRecordsOfTypesToComeAndSaysSo) {
    const Reading reading = read(with_record(static_cast<RecordType>(99), "from the future"));
    EXPECT_EQ(reading.count(Kind::damaged), 0u);
    ASSERT_EQ(reading.count(Kind::record_skipped), 1u);
    EXPECT_NE(reading.first(Kind::record_skipped).text.find("type 99"), std::string::npos);
    EXPECT_EQ(samples_of(reading), samples_of(read(invented_container())));
}

TEST(ContainerReading, NamesRecordsThatAreMissingRepeatedOrElsewhere) {
    const std::string bytes = invented_container();
    const auto places = places_of(bytes);
    const auto part = [&](std::size_t first, std::size_t end) {
        return bytes.substr(places[first].begin, places[end].begin - places[first].begin);
    };
    const auto text = [](const std::string& of) { return read(of).first(Kind::damaged).text; };
    const std::string opening = bytes.substr(0, container::opening_bytes);
    const std::string rest = bytes.substr(places[9].begin);
    EXPECT_EQ(text(opening + part(0, 5) + part(7, 9) + rest),
              "records 5 to 6 are missing before byte " + container::grouped(places[5].begin));
    EXPECT_EQ(text(opening + part(0, 5) + part(6, 9) + rest),
              "record 5 is missing before byte " + container::grouped(places[5].begin));
    EXPECT_NE(text(opening + part(0, 7) + part(5, 7) + part(7, 9) + rest).find("repeat records 5 to 6"),
              std::string::npos);
    const Reading swapped = read(opening + part(0, 5) + part(6, 7) + part(5, 6) + part(7, 9) + rest);
    EXPECT_NE(swapped.notices.back().text.find("record 7 follows record 5"), std::string::npos)
        << swapped.notices.back().text;
    EXPECT_EQ(samples_of(swapped), samples_of(read(bytes)));
}

TEST(ContainerReading, TellsATailWithoutARecordFromOneThatWasNeverClosed) {
    const std::string bytes = invented_container();
    EXPECT_TRUE(read(bytes).notices.empty());
    EXPECT_NE(read(bytes + "abc").first(Kind::torn_tail).text.find("the last 3 bytes"), std::string::npos);
    const std::string open_end = bytes.substr(0, places_of(bytes).back().begin);
    EXPECT_NE(read(open_end).first(Kind::torn_tail).text.find("not closed"), std::string::npos);
}

}  // namespace
}  // namespace ebbtide::recording
