// Recording containers: what goes in comes out bit for bit, and each rule of the format has its error.

#include <gtest/gtest.h>
#include <rapidcheck.h>
#include <rapidcheck/gtest.h>
#include <sys/stat.h>

#include <cstring>
#include <thread>

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

// ---- round trips ----

std::vector<Block> blocks_of(std::unique_ptr<Source> source) {
    std::vector<Block> blocks;
    Block block;
    for (;;) {
        const auto more = source->next(block);
        EXPECT_TRUE(more.ok());
        if (!more || !*more) return blocks;
        blocks.push_back(block);
    }
}

bool same_bits(const std::vector<double>& a, const std::vector<double>& b) {
    return a.size() == b.size() &&
           (a.empty() || std::memcmp(a.data(), b.data(), a.size() * sizeof(double)) == 0);
}

/// Any finite double, small and large ones and both zeros among them.
double any_double() {
    const auto bits = *rc::gen::arbitrary<std::uint64_t>();
    double number = 0;
    std::memcpy(&number, &bits, sizeof number);
    return std::isfinite(number) ? number : -0.0;
}

Block any_segment(bool with_run) {
    Block block;
    block.starts_segment = true;
    block.ends_segment = *rc::gen::arbitrary<bool>();
    block.channels.resize(3);
    for (std::size_t c = 0; c < 3; ++c) {
        const int count = *rc::gen::inRange(c == 0 ? 1 : 0, 40);
        double time_s = *rc::gen::inRange(-1000, 1000) / 7.0;
        for (int i = 0; i < count; ++i) {
            block.channels[c].time_s.push_back(time_s);
            block.channels[c].value.push_back(any_double());
            time_s += *rc::gen::inRange(0, 3) * 0.001;
        }
        if (c > 0 && *rc::gen::arbitrary<bool>()) block.channels[c] = block.channels[0];
    }
    for (int n = *rc::gen::inRange(0, 3); n > 0; --n) {
        trace::Notice notice;
        notice.kind = *rc::gen::elementOf(std::vector{Kind::value_missing, Kind::time_gap, Kind::clipped});
        notice.line = *rc::gen::inRange<std::uint64_t>(0, 1'000'000'000'000);
        notice.column = *rc::gen::inRange(0, 100);
        notice.count = *rc::gen::inRange<std::uint64_t>(1, 1'000'000'000'000);
        notice.time_s = any_double();
        notice.text = "the cell holds 'nän'";
        block.notices.push_back(notice);
    }
    if (with_run) {
        KeptRun run;
        run.span = {0, 1, 2, 3, 40, *rc::gen::arbitrary<bool>(), 0.1, -1, 5000.3};
        run.base = any_double();
        run.top = any_double();
        block.run = run;
    }
    return block;
}

RC_GTEST_PROP(ContainerRoundTrip, GivesBackAnyBlocksBitForBit, ()) {
    const bool runs = *rc::gen::arbitrary<bool>();
    std::vector<Block> blocks;
    for (int n = *rc::gen::inRange(1, 6); n > 0; --n) blocks.push_back(any_segment(runs));
    std::string bytes;
    ContainerWriter writer(std::make_unique<MemorySink>(bytes), runs);
    RC_ASSERT(writer.describe(invented_description()).ok());
    for (const Block& block : blocks) RC_ASSERT(writer.block(block).ok());
    RC_ASSERT(writer.finish({"abc", 5, {{"late", "line"}}}).ok());
    RC_ASSERT(writer.bytes() == bytes.size());

    auto source = open_bytes(bytes, "x.ebbrec", {});
    RC_ASSERT(source.ok());
    std::vector<Block> got;
    for (Block& block : blocks_of(std::move(source).value()))
        if (block.starts_segment) got.push_back(std::move(block));
    RC_ASSERT(got.size() == blocks.size());
    for (std::size_t i = 0; i < got.size(); ++i) {
        for (std::size_t c = 0; c < 3; ++c) {
            RC_ASSERT(same_bits(got[i].channels[c].time_s, blocks[i].channels[c].time_s));
            RC_ASSERT(same_bits(got[i].channels[c].value, blocks[i].channels[c].value));
        }
        RC_ASSERT(got[i].notices.size() == blocks[i].notices.size());
        for (std::size_t n = 0; n < got[i].notices.size(); ++n) {
            const trace::Notice &a = got[i].notices[n], &b = blocks[i].notices[n];
            RC_ASSERT(a.kind == b.kind && a.line == b.line && a.column == b.column && a.count == b.count &&
                      a.time_s == b.time_s && a.text == b.text);
        }
        RC_ASSERT(got[i].run.has_value() == runs);
        if (!runs) continue;
        RC_ASSERT(got[i].run->span.height == 5000.3);
        RC_ASSERT(got[i].run->span.starts_charged == blocks[i].run->span.starts_charged);
        RC_ASSERT(got[i].run->base == blocks[i].run->base && got[i].run->top == blocks[i].run->top);
    }
}

TEST(Container, KeepsWhatTheOriginalSaidOfItself) {
    auto source = open_bytes(invented_container(), "x.ebbrec", {});
    ASSERT_TRUE(source.ok());
    const Description &about = (*source)->description(), was = invented_description();
    EXPECT_EQ(about.file, "x.ebbrec");
    EXPECT_EQ(about.format, "recording container");
    EXPECT_EQ(about.dialect, "made from delimited text: as tests write it");
    EXPECT_EQ(about.metadata, was.metadata);
    ASSERT_TRUE(about.origin.has_value());
    EXPECT_EQ(about.origin->ns, was.origin->ns);
    ASSERT_EQ(about.channels.size(), 3u);
    for (std::size_t c = 0; c < 3; ++c) {
        EXPECT_EQ(about.channels[c].heading, was.channels[c].heading);
        EXPECT_EQ(about.channels[c].unit, was.channels[c].unit);
        EXPECT_EQ(about.channels[c].factor_to_SI, was.channels[c].factor_to_SI);
        EXPECT_EQ(about.channels[c].quantity, was.channels[c].quantity);
        EXPECT_EQ(about.channels[c].column, was.channels[c].column);
    }
}

TEST(Container, IsReadFromAPipeInPiecesOfAnySize) {
    const std::string bytes = invented_container();
    const Reading whole = read(bytes);
    const TemporaryFolder folder;
    const std::string pipe = folder / "pipe";
    ASSERT_EQ(::mkfifo(pipe.c_str(), 0600), 0);
    for (const std::size_t piece : {std::size_t{1}, std::size_t{4099}}) {
        std::thread writer([&] {
            const int file = ::open(pipe.c_str(), O_WRONLY);
            for (std::size_t at = 0; at < bytes.size();) {
                const ssize_t wrote = ::write(file, bytes.data() + at, std::min(piece, bytes.size() - at));
                if (wrote <= 0) break;
                at += static_cast<std::size_t>(wrote);
            }
            ::close(file);
        });
        const Reading piped = read_all(open(pipe, {}));
        writer.join();
        EXPECT_EQ(samples_of(piped), samples_of(whole));
        EXPECT_EQ(piped.sha256, whole.sha256);
        EXPECT_TRUE(piped.notices.empty());
    }
}

TEST(Container, TakesABlockOfAnySize) {
    Block block = invented_block(3, 0, 300'000);
    block.ends_segment = true;
    std::string bytes;
    ContainerWriter writer(std::make_unique<MemorySink>(bytes));
    ASSERT_TRUE(writer.describe(invented_description()).ok());
    ASSERT_TRUE(writer.block(block).ok());
    ASSERT_TRUE(writer.finish({}).ok());
    for (const Place& place : places_of(bytes)) EXPECT_LE(place.payload.size(), 2 * container::usual_payload);
    const Reading reading = read(bytes);
    ASSERT_EQ(reading.segments.size(), 1u);
    EXPECT_EQ(reading.segments[0].channels[0].value, block.channels[0].value);
    EXPECT_EQ(reading.segments[0].channels[2].time_s, block.channels[2].time_s);
}

// ---- options ----

TEST(ContainerChannels, AreNamedByHeadingOrByColumnOfTheOriginal) {
    const auto specimen_is = [](const std::string& name) {
        ReadOptions options;
        options.specimen = name;
        auto source = open_bytes(invented_container(), "x.ebbrec", options);
        EXPECT_TRUE(source.ok()) << name << source.error().text();
        for (const auto& channel : (*source)->description().channels)
            if (channel.quantity == trace::Quantity::specimen_voltage) return channel.heading;
        return std::string("none");
    };
    EXPECT_EQ(specimen_is("Clamps"), "clamps");
    EXPECT_EQ(specimen_is("3"), "clamps") << "the third column of the original, where the time was the first";
    EXPECT_EQ(specimen_is("2"), "specimen");
    for (const char* name : {"1", "4", "no such", "0"}) {
        ReadOptions options;
        options.specimen = name;
        const auto source = open_bytes(invented_container(), "x.ebbrec", options);
        ASSERT_FALSE(source.ok()) << name;
        EXPECT_NE(source.error().what.find("'clamps'"), std::string::npos) << "says what there is";
    }
    ReadOptions twice;
    twice.specimen = twice.electrode = "RH";
    EXPECT_FALSE(open_bytes(invented_container(), "x.ebbrec", twice).ok());
}

TEST(ContainerChannels, OfKeptRunsStayWhatTheyWereWhenTheRunsWereCut) {
    std::string bytes;
    ContainerWriter writer(std::make_unique<MemorySink>(bytes), true);
    ASSERT_TRUE(writer.describe(invented_description()).ok());
    ASSERT_TRUE(writer.finish({}).ok());
    ReadOptions options;
    options.specimen = "specimen";
    options.electrode = "clamps";
    EXPECT_TRUE(open_bytes(bytes, "x.runs.ebbrec", options).ok());
    options = {};
    options.specimen = "clamps";
    const auto source = open_bytes(bytes, "x.runs.ebbrec", options);
    ASSERT_FALSE(source.ok());
    EXPECT_NE(source.error().what.find("cut with"), std::string::npos) << source.error().text();
}

// ---- errors and rules, each by name ----

Error refused(const std::string& bytes) {
    const auto source = open_bytes(bytes, "x.ebbrec", {});
    EXPECT_FALSE(source.ok());
    if (source) return {};
    EXPECT_EQ(source.error().code, Fault::bad_input);
    EXPECT_EQ(source.error().where, "x.ebbrec");
    EXPECT_FALSE(source.error().remedy.empty());
    return source.error();
}

TEST(ContainerRefusal, OfANewerVersionNamesBoth) {
    std::string bytes = invented_container();
    bytes[container::opening_bytes - 1] = 2;
    EXPECT_NE(refused(bytes).what.find("version 2, this program reads version 1"), std::string::npos);
}

TEST(ContainerRefusal, OfNothingBehindTheFirstBytes) {
    refused(invented_container().substr(0, container::opening_bytes - 1));
    EXPECT_NE(refused(invented_container().substr(0, container::opening_bytes)).what.find("description"),
              std::string::npos);
}

TEST(ContainerRefusal, WithoutAnyWholeDescription) {
    std::string bytes = invented_container();
    for (const Place& place : places_of(bytes))
        if (place.type == RecordType::description) bytes[place.begin + 30] ^= 1;
    EXPECT_NE(refused(bytes).what.find("description"), std::string::npos);
}

TEST(ContainerReading, LosesASegmentAtMostToADamagedDescription) {
    std::string bytes = invented_container();
    const auto places = places_of(bytes);
    bytes[places[0].begin + 30] ^= 1;
    const Reading reading = read(bytes);
    EXPECT_EQ(samples_of(reading), samples_of(read(invented_container())))
        << "the first segment repeats it, so nothing is lost";
    EXPECT_EQ(reading.count(Kind::damaged), 2u) << "before the first samples there are none to lay it on";
}

// ---- writing ----

TEST(ContainerWriting, ToAFullDiskIsAnErrorAtOnce) {
    auto sink = new_file("/dev/full");
    ASSERT_TRUE(sink.ok());
    ContainerWriter writer(std::move(sink).value());
    const auto described = writer.describe(invented_description());
    ASSERT_FALSE(described.ok());
    EXPECT_EQ(described.error().where, "/dev/full");
    EXPECT_NE(described.error().what.find("No space left"), std::string::npos) << described.error().text();
    EXPECT_FALSE(new_file("/no/such/folder/x.ebbrec").ok());
}

TEST(ContainerWriting, GoesOnOnlyWithAContainer) {
    const TemporaryFolder folder;
    EXPECT_FALSE(ContainerWriter::go_on(folder / "none.ebbrec").ok());
    write_bytes(folder / "text.csv", "t [s],U [V]\n0,1\n1,2\n");
    EXPECT_FALSE(ContainerWriter::go_on(folder / "text.csv").ok());
    EXPECT_EQ(bytes_of(folder / "text.csv"), "t [s],U [V]\n0,1\n1,2\n") << "and leaves it alone";
}

TEST(ContainerWriting, GoesOnBehindAnEndWithNothingToSay) {
    const TemporaryFolder folder;
    write_bytes(folder / "x.ebbrec", invented_container());
    auto gone = ContainerWriter::go_on(folder / "x.ebbrec");
    ASSERT_TRUE(gone.ok());
    EXPECT_EQ(gone->bytes_cut, 0u);
    EXPECT_EQ(gone->contents.about.channels.size(), 3u);
    ASSERT_TRUE(gone->writer->block(invented_block(9, 0, 30)).ok());
    ASSERT_TRUE(gone->writer->finish({}).ok());
    const Reading reading = read(bytes_of(folder / "x.ebbrec"));
    EXPECT_TRUE(reading.notices.empty());
    EXPECT_EQ(reading.segments.size(), static_cast<std::size_t>(segments_invented) + 1);
}

}  // namespace
}  // namespace ebbtide::recording
