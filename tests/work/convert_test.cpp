// A converted recording is the same recording: its runs have the same ids and figures as those of the
// original.

#include "work/convert.hpp"

#include <fmt/format.h>
#include <gtest/gtest.h>
#include <rapidcheck.h>
#include <rapidcheck/gtest.h>

#include <cmath>

#include "basis/sha256.hpp"
#include "record/json.hpp"
#include "recording/container_writer.hpp"
#include "support/program.hpp"
#include "work/measure.hpp"

namespace {

using namespace ebbtide;
using namespace ebbtide::testing_support;
using nlohmann::json;

struct Both {
    work::MeasuredFile original, converted;
    std::string bytes;  ///< of the container
};

Both both_of(const std::string& recorded, const recording::ReadOptions& options = {}) {
    Both both;
    const auto source = [&] { return recording::open_bytes(recorded, "trace.csv", options).value(); };
    recording::ContainerWriter writer(std::make_unique<recording::MemorySink>(both.bytes));
    const auto converted = work::convert(*source(), writer);
    EXPECT_TRUE(converted.ok()) << (converted.ok() ? "" : converted.error().text());
    both.original = work::measure(*source(), {work::usual_rules(), {}}).value();
    both.converted = work::measure(*recording::open_bytes(both.bytes, "trace.ebbrec", {}).value(),
                                   {work::usual_rules(), {}})
                         .value();
    return both;
}

/// Runs, figures, flags and notices as one text, unrounded.
std::string text_of(const work::MeasuredFile& file) {
    json out = json::array();
    for (const work::MeasuredRun& run : file.runs) {
        json one = record::json_of(run.figures);
        one["run"] = run.run_id;
        for (const plan::Flag& flag : run.flags) one["flags"].push_back(record::json_of(flag));
        out.push_back(std::move(one));
    }
    for (const trace::Notice& notice : file.recording.notices) out.push_back(record::json_of(notice));
    for (const plan::Flag& flag : file.flags) out.push_back(record::json_of(flag));
    return record::canonical_text(out);
}

TEST(Convert, KeepsRunsAndFiguresOfEveryExample) {
    std::size_t runs = 0;
    for (const auto& entry : std::filesystem::recursive_directory_iterator(EBBTIDE_SOURCE_DIR "/examples")) {
        if (entry.path().extension() != ".csv" || entry.path().parent_path().filename() != "recordings")
            continue;
        SCOPED_TRACE(entry.path().string());
        const Both both = both_of(bytes_of(entry.path()));
        EXPECT_EQ(text_of(both.converted), text_of(both.original));
        runs += both.original.runs.size();
    }
    EXPECT_GE(runs, 25u);
}

/// A recording of any number of runs, with faults that notices tell of, and time that starts again.
std::string any_recording() {
    std::string text = "Time (ms);Clamps (kV);Specimen (mV);RH (%)\n";
    int row = 0;
    for (int run = *rc::gen::inRange(1, 5); run > 0; --run) {
        const double tau = *rc::gen::inRange(20, 200), height = *rc::gen::inRange(-5000, 5000);
        if (*rc::gen::inRange(0, 3) == 0) row = 0;
        for (int i = 0; i < 1500; ++i, ++row) {
            const double on = i >= 300 && i < 600 ? 1 : 0;
            const double v = height * (i < 300 ? 0 : i < 600 ? 1 : std::exp(-(i - 600) / tau));
            const int fault = *rc::gen::weightedElement<int>({{2000, 0}, {1, 1}, {1, 2}, {1, 3}});
            if (fault == 1) text += fmt::format("{};{:.3f};nan;12\n", row, on * height / 1000);
            if (fault == 2) text += "the logger paused\n";
            if (fault == 3) row += 40;
            if (fault != 1)
                text += fmt::format("{};{:.3f};{:.1f};12\n", row, on * height / 1000,
                                    v + 0.3 * ((row * 7919) % 13 - 6));
        }
    }
    return text;
}

RC_GTEST_PROP(Convert, KeepsRunsAndFiguresOfAnyRecording, ()) {
    const Both both = both_of(any_recording());
    RC_ASSERT(text_of(both.converted) == text_of(both.original));
}

TEST(Convert, KeepsChannelsTogetherWhereOneLacksASample) {
    // Cut where the electrode is one sample ahead of the specimen, runs would be cut elsewhere.
    std::string text = "time (s),clamps (kV),specimen (V)\n";
    for (int i = 0; i < 20'000; ++i)
        text += i % 500 == 7 ? fmt::format("{:.3f},{},\n", i * 1e-3, i)
                             : fmt::format("{:.3f},{},{}\n", i * 1e-3, i, i);
    const Both both = both_of(text);
    auto source = recording::open_bytes(both.bytes, "x.ebbrec", {}).value();
    recording::Block block;
    std::size_t blocks = 0;
    for (double before_s = -1; source->next(block).value();) {
        if (block.channels[0].time_s.empty()) continue;
        ++blocks;
        for (const recording::ChannelBlock& channel : block.channels)
            EXPECT_GT(channel.time_s.front(), before_s) << "nothing comes late";
        before_s = std::max(block.channels[0].time_s.back(), block.channels[1].time_s.back());
    }
    EXPECT_GT(blocks, 10u);
}

TEST(Convert, StatesTheOriginalAndCountsWhatItWrote) {
    const std::string recorded = bytes_of(EBBTIDE_SOURCE_DIR "/examples/halyard-cloth/recordings/W1.csv");
    const TemporaryFolder folder;
    auto source = recording::open_bytes(recorded, "W1.csv", {}).value();
    const auto converted = work::convert_to_file(*source, folder / "W1.ebbrec");
    ASSERT_TRUE(converted.ok()) << converted.error().text();
    EXPECT_EQ(converted->bytes, recorded.size());
    EXPECT_EQ(converted->sha256, sha256_hex(recorded));
    EXPECT_EQ(converted->segments, 1u);
    EXPECT_FALSE(std::filesystem::exists(folder / "W1.ebbrec.part"));
    EXPECT_NE(bytes_of(folder / "W1.ebbrec").find(converted->sha256), std::string::npos);
}

TEST(Convert, OfAContainerGivesTheSameSamplesAgain) {
    const Both once = both_of(bytes_of(EBBTIDE_SOURCE_DIR "/examples/halyard-cloth/recordings/W1.csv"));
    const Both twice = both_of(once.bytes);
    EXPECT_EQ(text_of(twice.converted), text_of(once.original));
}

TEST(Convert, RefusesKeptRunsWhichWouldLoseWhereTheyWereCut) {
    std::string bytes;
    recording::ContainerWriter kept(std::make_unique<recording::MemorySink>(bytes), true);
    recording::Description about;
    about.channels.resize(1);
    ASSERT_TRUE(kept.describe(about).ok());
    ASSERT_TRUE(kept.finish({}).ok());
    auto source = recording::open_bytes(bytes, "x.runs.ebbrec", {}).value();
    const TemporaryFolder folder;
    const auto converted = work::convert_to_file(*source, folder / "y.ebbrec");
    ASSERT_FALSE(converted.ok());
    EXPECT_NE(converted.error().what.find("kept of a larger recording"), std::string::npos);
    EXPECT_TRUE(std::filesystem::is_empty(folder.path()));
}

/// Four runs of 5 s, one after the other: zero, hold, and a fall that is long over when the next begins.
std::string four_runs() {
    std::string text = "time (s),specimen voltage (V)\n";
    for (int run = 0; run < 4; ++run)
        for (int i = 0; i < 5000; ++i)
            text += fmt::format("{:.3f},{:.4f}\n", (run * 5000 + i) * 1e-3,
                                (i < 1000   ? 0
                                 : i < 2000 ? 5
                                            : 5 * std::exp(-(i - 2000) / 100.0)) +
                                    0.0005 * ((i * 7919) % 13 - 6));
    return text;
}

bool has(const std::vector<plan::Flag>& flags, plan::FlagCode code) {
    return std::ranges::find(flags, code, &plan::Flag::code) != flags.end();
}

TEST(DamagedContainer, FlagsTheRunsBesideTheDamage) {
    const Both both = both_of(four_runs());
    ASSERT_EQ(both.original.runs.size(), 4u);
    std::string damaged = both.bytes;
    const std::size_t middle = damaged.size() / 2;
    damaged[middle] = static_cast<char>(damaged[middle] ^ 4);
    const auto file =
        work::measure(*recording::open_bytes(damaged, "x.ebbrec", {}).value(), {work::usual_rules(), {}})
            .value();
    const auto flagged = [](const work::MeasuredRun& run) {
        return has(run.flags, plan::FlagCode::recording_damaged);
    };
    ASSERT_GE(file.runs.size(), 3u);
    EXPECT_FALSE(flagged(file.runs.front()));
    EXPECT_FALSE(flagged(file.runs.back()));
    EXPECT_GE(std::ranges::count_if(file.runs, flagged), 1);
    EXPECT_EQ(file.runs.front().run_id, both.original.runs.front().run_id);
    // Its lead may begin elsewhere, because less was seen before it; its fall is the same.
    EXPECT_NEAR(*file.runs.back().figures.levels[2].decay_s,
                *both.original.runs.back().figures.levels[2].decay_s,
                *both.original.runs.back().figures.levels[2].u_decay_s);
    ASSERT_EQ(file.flags.size(), 1u) << "and the recording as a whole, once";
    EXPECT_NE(file.flags[0].message.find("are damaged"), std::string::npos) << file.flags[0].message;
    ASSERT_EQ(file.recording.notices.size(), 1u);
    EXPECT_EQ(file.recording.notices[0].count, 1u) << "told of both sides, counted once";
}

TEST(TornContainer, FlagsTheRunAtItsEnd) {
    const std::string whole = both_of(four_runs()).bytes, cut = whole.substr(0, whole.size() * 94 / 100);
    const auto file =
        work::measure(*recording::open_bytes(cut, "x.ebbrec", {}).value(), {work::usual_rules(), {}}).value();
    ASSERT_EQ(file.runs.size(), 4u);
    EXPECT_FALSE(has(file.runs[2].flags, plan::FlagCode::torn_tail));
    EXPECT_TRUE(has(file.runs[3].flags, plan::FlagCode::torn_tail));
    EXPECT_TRUE(has(file.flags, plan::FlagCode::torn_tail)) << "and the recording as a whole";
}

}  // namespace
