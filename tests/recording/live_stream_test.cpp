// A recording that is still coming: rows are there when they have arrived, and what is read is what the whole
// file holds.

#include <fmt/format.h>
#include <gtest/gtest.h>
#include <rapidcheck/gtest.h>

#include "recording/container_writer.hpp"
#include "recording/source.hpp"
#include "support/scripted_stream.hpp"

namespace ebbtide::recording {
namespace {

using ebbtide::testing_support::ScriptedStream;

std::string text_of_rows(int rows) {
    std::string text = "Logger,invented\n\nTime (s),Specimen (V)\n";
    for (int i = 0; i < rows; ++i) text += fmt::format("{:.3f},{:.2f}\n", 0.001 * i, 5000.0 / (1 + i % 700));
    return text;
}

/// All samples of a source, one after the other.
struct All {
    std::vector<double> time_s, value;
    std::vector<trace::Notice> notices;
    std::vector<std::size_t> segments;  // index of their first samples
    std::string sha256;
    friend bool operator==(const All& a, const All& b) {
        return a.time_s == b.time_s && a.value == b.value && a.segments == b.segments && a.sha256 == b.sha256;
    }
};

All all_of(Source& source, std::size_t channel = 0) {
    All all;
    Block block;
    for (;;) {
        const auto more = source.next(block);
        if (!more) {
            ADD_FAILURE() << more.error().text();
            return all;
        }
        if (!*more) break;
        if (block.starts_segment) all.segments.push_back(all.time_s.size());
        const ChannelBlock& samples = block.channels[channel];
        all.time_s.insert(all.time_s.end(), samples.time_s.begin(), samples.time_s.end());
        all.value.insert(all.value.end(), samples.value.begin(), samples.value.end());
        all.notices.insert(all.notices.end(), block.notices.begin(), block.notices.end());
    }
    all.sha256 = source.sha256();
    return all;
}

All streamed(const std::string& bytes, std::function<std::size_t()> piece) {
    auto source = open_stream(std::make_unique<ScriptedStream>(bytes, std::move(piece)), {});
    EXPECT_TRUE(source) << (source ? "" : source.error().text());
    return source ? all_of(**source) : All{};
}

All whole(const std::string& bytes) {
    auto source = open_bytes(bytes, "file", {});
    EXPECT_TRUE(source);
    return all_of(**source);
}

std::string container_of(const std::string& text) {
    auto source = open_bytes(text, "file", {});
    std::string bytes;
    ContainerWriter writer(std::make_unique<MemorySink>(bytes));
    EXPECT_TRUE(writer.describe((*source)->description()));
    Block block;
    while (*(*source)->next(block)) EXPECT_TRUE(writer.block(block));
    EXPECT_TRUE(writer.finish({}));
    return bytes;
}

}  // namespace

RC_GTEST_PROP(LiveStream, BringsTheSamplesOfTheFileHoweverItArrives, ()) {
    const int rows = *rc::gen::inRange(1, 400);
    const std::string text = text_of_rows(rows);
    const auto most = *rc::gen::element<std::size_t>(1, 7, 64, 5000);
    RC_ASSERT(streamed(text, [most] { return most; }) == whole(text));
}

TEST(LiveStream, BringsTheSamplesOfAContainerHoweverItArrives) {
    const std::string bytes = container_of(text_of_rows(5000));
    const All wanted = whole(bytes);
    ASSERT_EQ(wanted.value.size(), 5000u);
    for (const std::size_t piece : {17u, 4096u})
        EXPECT_TRUE(streamed(bytes, [piece] { return piece; }) == wanted);
}

TEST(LiveStream, IsUnderstoodFromItsFirst64Lines) {
    const std::string text = text_of_rows(5000);
    auto stream = std::make_unique<ScriptedStream>(text, [] { return std::size_t{1}; });
    const ScriptedStream& seen = *stream;
    auto source = open_stream(std::move(stream), {});
    ASSERT_TRUE(source);
    const std::string head = text.substr(0, seen.used());
    EXPECT_EQ(std::ranges::count(head, '\n'), 64);
}

TEST(LiveStream, HandsOnEachLineAsSoonAsItHasArrived) {
    const std::string text = text_of_rows(500);
    // A line at a time.
    std::size_t at = 0;
    const auto piece = [&] {
        const std::size_t end = text.find('\n', at) + 1;
        return end - std::exchange(at, end);
    };
    auto stream = std::make_unique<ScriptedStream>(text, piece);
    const ScriptedStream& seen = *stream;
    auto source = open_stream(std::move(stream), {});
    ASSERT_TRUE(source);
    std::size_t rows = 0;
    Block block;
    while (*(*source)->next(block)) {
        rows += block.channels[0].value.size();
        const std::string read = text.substr(0, seen.used());
        // Three lines stand above the numbers. All that has arrived is handed on before more is asked for.
        ASSERT_EQ(rows + 3, static_cast<std::size_t>(std::ranges::count(read, '\n')));
    }
    EXPECT_EQ(rows, 500u);
}

TEST(LiveStream, HandsOnEachRecordOfAContainerAsSoonAsItHasArrived) {
    std::string bytes;
    ContainerWriter writer(std::make_unique<MemorySink>(bytes));
    Description about;
    about.channels.push_back({"v", "V", 1, trace::Quantity::specimen_voltage, 1});
    ASSERT_TRUE(writer.describe(about));
    std::vector<std::size_t> ends;
    for (int i = 0; i < 50; ++i) {
        Block block;
        block.starts_segment = i == 0;
        block.channels = {{{0.1 * i}, {1.0 * i}}};
        ASSERT_TRUE(writer.block(block));
        ends.push_back(bytes.size());
    }
    auto stream = std::make_unique<ScriptedStream>(bytes, [] { return std::size_t{1}; });
    const ScriptedStream& seen = *stream;
    auto source = open_stream(std::move(stream), {});
    ASSERT_TRUE(source);
    for (const std::size_t end : ends) {
        Block block;
        ASSERT_TRUE(*(*source)->next(block));
        ASSERT_EQ(block.channels[0].value.size(), 1u);
        EXPECT_EQ(seen.used(), end);
    }
}

TEST(LiveStream, SaysWhatItLostWhereItWasLost) {
    const std::string text = text_of_rows(500);
    const std::size_t hole = text.find("0.300,");
    auto stream = std::make_unique<ScriptedStream>(text, [] { return std::size_t{100}; });
    stream->lose(hole, 1234);
    auto source = open_stream(std::move(stream), {});
    ASSERT_TRUE(source);
    const All all = all_of(**source);
    const auto lost = std::ranges::find(all.notices, trace::Notice::Kind::samples_lost, &trace::Notice::kind);
    ASSERT_NE(lost, all.notices.end());
    EXPECT_NE(lost->text.find("1234 bytes"), std::string::npos);
    EXPECT_DOUBLE_EQ(lost->time_s, 0.299);
    // The time column says how long: one segment.
    EXPECT_EQ(all.segments.size(), 1u);
}

TEST(LiveStream, CountedSamplesAfterALossBelongToNoRunFromBeforeIt) {
    std::string text = "Specimen (V)\n";
    for (int i = 0; i < 500; ++i) text += fmt::format("{:.2f}\n", 10.0 + i % 7);
    auto stream = std::make_unique<ScriptedStream>(text, [] { return std::size_t{60}; });
    stream->lose(std::string("Specimen (V)\n").size() + 250 * std::string("10.00\n").size(), 60);
    ReadOptions options;
    options.sample_interval_s = 0.01;
    options.specimen = "1";
    auto source = open_stream(std::move(stream), options);
    ASSERT_TRUE(source) << source.error().text();
    const All all = all_of(**source);
    EXPECT_EQ(all.segments.size(), 2u);
}

TEST(LiveStream, AStreamThatEndsEarlyIsReadAsFarAsItCame) {
    const std::string text = text_of_rows(20);
    EXPECT_EQ(streamed(text, [] { return std::size_t{9}; }).value.size(), 20u);
    auto nothing = open_stream(std::make_unique<ScriptedStream>("", [] { return std::size_t{1}; }), {});
    EXPECT_FALSE(nothing);
}

}  // namespace ebbtide::recording
