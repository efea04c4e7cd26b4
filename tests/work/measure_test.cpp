// Measuring recordings: one run or many, from bytes, files and pipes, with and without a bench file.

#include "work/measure.hpp"

#include <fmt/format.h>
#include <gtest/gtest.h>
#include <sys/stat.h>

#include <cmath>
#include <functional>
#include <thread>

#include "paperwork/paperwork.hpp"
#include "support/program.hpp"

namespace {

using namespace ebbtide;
using namespace ebbtide::testing_support;

work::MeasuredFile measured(std::unique_ptr<recording::Source> source,
                            const std::optional<plan::Bench>& bench = {}) {
    auto file = work::measure(*source, {work::usual_rules(), bench});
    EXPECT_TRUE(file.ok()) << (file.ok() ? "" : file.error().text());
    return file.ok() ? *file : work::MeasuredFile{};
}

work::MeasuredFile measured(const std::string& bytes, const std::optional<plan::Bench>& bench = {},
                            const recording::ReadOptions& options = {}) {
    auto source = recording::open_bytes(bytes, "trace.csv", options);
    EXPECT_TRUE(source.ok()) << (source.ok() ? "" : source.error().text());
    return source.ok() ? measured(std::move(source).value(), bench) : work::MeasuredFile{};
}

std::vector<std::string> ids(const work::MeasuredFile& file) {
    std::vector<std::string> out;
    for (const auto& run : file.runs) out.push_back(run.run_id);
    return out;
}

bool has(const std::vector<plan::Flag>& flags, plan::FlagCode code) {
    return std::ranges::find(flags, code, &plan::Flag::code) != flags.end();
}

const std::string example = EBBTIDE_SOURCE_DIR "/examples/halyard-cloth/recordings/W1.csv";

plan::Bench example_bench() {
    return paperwork::parse_bench(bytes_of(EBBTIDE_SOURCE_DIR "/examples/halyard-cloth/bench.toml"),
                                  "bench.toml")
        .value();
}

/// Runs one after the other: 1 s of zero, 1 s of hold and 3 s of fall each, 1 ms apart. Small steps of the
/// last digit stand for noise.
struct Recorded {
    std::vector<double> time_constants_s;
    double height_V = 5;
    std::function<std::string(int row, const std::string& line)> edit = [](int, const std::string& line) {
        return line;
    };
};

std::string text_of(const Recorded& recorded) {
    std::string text = "time (s),specimen voltage (V)\n";
    int row = 0;
    for (const double tau_s : recorded.time_constants_s)
        for (int i = 0; i < 5000; ++i, ++row) {
            const double v =
                i < 1000 ? 0 : recorded.height_V * (i < 2000 ? 1 : std::exp(-(i - 2000) * 1e-3 / tau_s));
            const double noise = 0.0005 * ((row * 7919) % 13 - 6);
            text += recorded.edit(row, fmt::format("{:.3f},{:.4f}\n", row * 1e-3, v + noise));
        }
    return text;
}

TEST(RunId, IsTheSameFromBytesFileAndPipeAndByteByByte) {
    const std::string bytes = bytes_of(example);
    const auto from_bytes = measured(bytes);
    ASSERT_EQ(from_bytes.runs.size(), 2u);
    EXPECT_EQ(from_bytes.runs[0].run_id.size(), 64u);
    EXPECT_NE(from_bytes.runs[0].run_id, from_bytes.runs[1].run_id);
    EXPECT_EQ(ids(measured(std::move(recording::open(example, {})).value())), ids(from_bytes));

    const TemporaryFolder folder;
    const std::string pipe = folder / "pipe";
    for (const std::size_t piece : {std::size_t{1}, std::size_t{4099}}) {
        ::unlink(pipe.c_str());
        ASSERT_EQ(::mkfifo(pipe.c_str(), 0600), 0);
        std::thread writer([&] {
            const int file = ::open(pipe.c_str(), O_WRONLY);
            for (std::size_t at = 0; at < bytes.size();) {
                const ssize_t wrote = ::write(file, bytes.data() + at, std::min(piece, bytes.size() - at));
                if (wrote <= 0) break;
                at += static_cast<std::size_t>(wrote);
            }
            ::close(file);
        });
        auto source = recording::open(pipe, {});
        ASSERT_TRUE(source.ok());
        const auto from_pipe = measured(std::move(source).value());
        writer.join();
        EXPECT_EQ(ids(from_pipe), ids(from_bytes)) << piece;
        EXPECT_EQ(from_pipe.recording.sha256, from_bytes.recording.sha256);
        EXPECT_EQ(from_pipe.runs[0].figures.levels[2].decay_s, from_bytes.runs[0].figures.levels[2].decay_s);
    }
}

TEST(RunId, IsOfTheSamplesAsRecordedWhateverTheBench) {
    const std::string bytes = bytes_of(example);
    const auto without = measured(bytes);
    EXPECT_EQ(ids(measured(bytes, example_bench())), ids(without));
    plan::Bench skew = example_bench();
    skew.sensor.scale.gain_negative = 1013.7;
    skew.sensor.scale.offset = 0.0123;
    skew.electrode.gain_positive = 987.3;
    EXPECT_EQ(ids(measured(bytes, skew)), ids(without));
}

TEST(RunId, ChangesWithOneDigitOfItsRun) {
    const auto plain = measured(text_of({{0.1, 0.2}}));
    Recorded changed{{0.1, 0.2}};
    changed.edit = [](int row, const std::string& line) {
        return row == 1500 ? fmt::format("{:.3f},4.9999\n", row * 1e-3) : line;
    };
    const auto other = measured(text_of(changed));
    ASSERT_EQ(plain.runs.size(), 2u);
    ASSERT_EQ(other.runs.size(), 2u);
    EXPECT_NE(other.runs[0].run_id, plain.runs[0].run_id);
    EXPECT_EQ(other.runs[1].run_id, plain.runs[1].run_id) << "the other run's samples are what they were";
}

// t(p) of an exponential is T ln(1/p): 2.302585 T to 10 % (check against the closed form).
TEST(Recording, WithManyRunsIsMeasuredRunByRun) {
    const std::vector<double> tau_s{0.1, 0.2, 0.05, 0.4, 0.1};
    const auto file = measured(text_of({tau_s}));
    ASSERT_EQ(file.runs.size(), tau_s.size());
    for (std::size_t i = 0; i < tau_s.size(); ++i) {
        const decay::LevelFigure& tenth = file.runs[i].figures.levels[2];
        ASSERT_EQ(tenth.status, decay::LevelStatus::measured);
        EXPECT_NEAR(*tenth.decay_s, 2.302585 * tau_s[i], std::max(4 * *tenth.u_decay_s, 0.0015));
        EXPECT_EQ(file.runs[i].figures.polarity, plan::Polarity::positive);
        EXPECT_EQ(file.recording.runs[i], file.runs[i].run_id);
    }
    Recorded negative{{0.1}};
    negative.height_V = -5;
    EXPECT_EQ(measured(text_of(negative)).runs.at(0).figures.polarity, plan::Polarity::negative);
}

TEST(Recording, WhoseTimeRestartsHoldsSegmentsThatDoNotMix) {
    const std::string once = text_of({{0.1}});
    const std::string again = once + text_of({{0.2}}).substr(once.find('\n') + 1);
    const auto file = measured(again);
    ASSERT_EQ(file.runs.size(), 2u);
    EXPECT_NEAR(*file.runs[0].figures.levels[2].decay_s, 0.2303, 0.002);
    EXPECT_NEAR(*file.runs[1].figures.levels[2].decay_s, 0.4605, 0.002);
    EXPECT_EQ(file.runs[0].run_id, measured(once).runs.at(0).run_id)
        << "a run is the same alone and with another behind it";
}

TEST(Notice, IsLaidOnTheRunInWhichItWasSeen) {
    Recorded spoiled{{0.1, 0.1, 0.1}};
    spoiled.edit = [](int row, const std::string& line) {
        return row == 7100 ? fmt::format("{:.3f},nan\n", row * 1e-3) : line;
    };
    const auto file = measured(text_of(spoiled));
    ASSERT_EQ(file.runs.size(), 3u);
    EXPECT_FALSE(has(file.runs[0].flags, plan::FlagCode::values_missing));
    ASSERT_TRUE(has(file.runs[1].flags, plan::FlagCode::values_missing));
    EXPECT_FALSE(has(file.runs[2].flags, plan::FlagCode::values_missing));
    const auto flag =
        std::ranges::find(file.runs[1].flags, plan::FlagCode::values_missing, &plan::Flag::code);
    EXPECT_NE(flag->message.find("Line 7102"), std::string::npos) << flag->message;
    ASSERT_EQ(file.recording.notices.size(), 1u);
    EXPECT_EQ(file.recording.notices[0].line, 7102u);
}

TEST(Notice, OfATornLastLineIsLaidOnTheLastRun) {
    std::string text = text_of({{0.1, 0.1}});
    text.resize(text.size() - 6);
    const auto file = measured(text);
    ASSERT_EQ(file.runs.size(), 2u);
    EXPECT_FALSE(has(file.runs[0].flags, plan::FlagCode::torn_last_line));
    EXPECT_TRUE(has(file.runs[1].flags, plan::FlagCode::torn_last_line));
}

TEST(Recording, WithoutAFallSaysSo) {
    const auto file = measured("time (s),specimen voltage (V)\n0,1\n0.1,1\n0.2,1\n0.3,1\n");
    EXPECT_TRUE(file.runs.empty());
    EXPECT_TRUE(has(file.flags, plan::FlagCode::no_decay));
}

TEST(Recording, OfHumidityAloneIsRefusedWithTheOptionThatSettlesIt) {
    auto source = recording::open_bytes("time (s),relative humidity (%)\n0,12\n1,12\n2,12\n", "rh.csv", {});
    const Error error = source ? work::measure(**source, {work::usual_rules(), {}}).error() : source.error();
    EXPECT_EQ(error.code, Fault::bad_input);
    EXPECT_NE(error.text().find("rh.csv"), std::string::npos) << error.text();
    EXPECT_NE(error.text().find("specimen"), std::string::npos) << error.text();
    EXPECT_NE(error.remedy.find("--specimen"), std::string::npos) << error.text();
}

TEST(Recording, BeyondAnyBenchIsRefusedWithColumnValueAndTime) {
    for (const char* value : {"1e308", "-1e200"}) {
        auto source = recording::open_bytes(
            fmt::format("time (s),specimen voltage (V)\n0,0\n1,0\n2,{}\n3,0\n", value), "huge.csv", {});
        ASSERT_TRUE(source.ok());
        const auto file = work::measure(**source, {work::usual_rules(), {}});
        ASSERT_FALSE(file.ok());
        EXPECT_EQ(file.error().code, Fault::bad_input);
        EXPECT_EQ(file.error().where, "huge.csv");
        EXPECT_NE(file.error().what.find("'specimen voltage (V)'"), std::string::npos) << file.error().text();
        EXPECT_NE(file.error().what.find("time 2 s"), std::string::npos) << file.error().text();
    }
    // A gain can carry a value there that the recorder did read.
    plan::Bench bench;
    bench.sensor.scale.gain_positive = 1e49;
    auto source = recording::open_bytes("time (s),specimen voltage (V)\n0,0\n1,50\n2,0\n", "gain.csv", {});
    EXPECT_FALSE(work::measure(**source, {work::usual_rules(), bench}).ok());
}

}  // namespace
