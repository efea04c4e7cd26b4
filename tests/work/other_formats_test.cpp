// The same bench in sound and HDF5 files: known decay times come out, and conversion changes no figure.

#include <fmt/format.h>
#include <gtest/gtest.h>

#include <cmath>

#include "record/json.hpp"
#include "recording/hdf5_files.hpp"
#include "recording/wave_bytes.hpp"
#include "support/simulated_run.hpp"
#include "work/convert.hpp"
#include "work/measure.hpp"

namespace {

using namespace ebbtide;
using namespace ebbtide::testing_support;
using recording::testing_support::Wave;

work::MeasuredFile measured(const std::string& bytes, const work::MeasureRequest& request,
                            const recording::ReadOptions& options = {}) {
    auto source = recording::open_bytes(bytes, "bench", options);
    EXPECT_TRUE(source.ok()) << (source.ok() ? "" : source.error().text());
    auto file = work::measure(**source, request);
    EXPECT_TRUE(file.ok()) << (file.ok() ? "" : file.error().text());
    return std::move(file).value();
}

/// Zero, hold and an exponential fall from `height` of full scale at 44.1 kHz, with noise of some steps.
Wave charge_and_fall(double height, double time_constant_s, std::uint64_t seed) {
    RunPlan plan;
    plan.zero_s = 0.1;
    plan.hold_s = 0.3;
    plan.fall_s = 6 * time_constant_s;
    plan.initial_V = height;
    plan.noise_V = 2e-4;
    plan.samples = static_cast<std::size_t>(44'100 * (plan.zero_s + plan.hold_s + plan.fall_s));
    plan.fall = [&](double t_s) { return std::exp(-t_s / time_constant_s); };
    Wave wave;
    for (const double value : simulate(plan, seed).value)
        wave.add16(static_cast<int>(std::lround(value * 32'768)));
    return wave;
}

TEST(SoundFile, GivesTheDecayTimeOfAKnownExponential) {
    // t(p) = T ln(1/p).
    constexpr double time_constant_s = 0.25;
    work::MeasureRequest request{work::usual_rules(), plan::Bench{}};
    request.bench->sensor.scale.gain_positive = request.bench->sensor.scale.gain_negative =
        5000;  // V at full scale
    for (const double height : {0.8, -0.8}) {
        const work::MeasuredFile file =
            measured(charge_and_fall(height, time_constant_s, 3).bytes(), request);
        ASSERT_EQ(file.runs.size(), 1u);
        const decay::Figures& figures = file.runs[0].figures;
        ASSERT_TRUE(figures.initial_voltage_V);
        EXPECT_NEAR(*figures.initial_voltage_V, 4000, 5) << "after the sign";
        ASSERT_EQ(figures.levels.size(), 3u);
        for (std::size_t i = 0; i < 3; ++i) {
            const double level = std::vector{0.5, std::exp(-1.0), 0.1}[i];
            const auto& found = figures.levels[i];
            ASSERT_TRUE(found.decay_s) << i;
            EXPECT_NEAR(*found.decay_s, time_constant_s * std::log(1 / level),
                        4 * found.u_decay_s.value_or(0))
                << level;
            EXPECT_LT(found.u_decay_s.value_or(1), 1e-3);
        }
        for (const plan::Flag& flag : file.runs[0].flags) EXPECT_NE(flag.code, plan::FlagCode::clipped);
    }
}
TEST(SoundFile, ThatReadsFullScaleVoidsItsRun) {
    Wave wave = charge_and_fall(1.1, 0.1, 4);
    for (std::size_t i = 0; i + 1 < wave.data.size(); i += 2) {
        // Where 16 bits ran over, the recorder would have stood at its full scale.
        const auto code = static_cast<std::int16_t>(static_cast<unsigned char>(wave.data[i]) |
                                                    static_cast<unsigned char>(wave.data[i + 1]) << 8);
        if (code < -10'000) wave.data.replace(i, 2, "\xFF\x7F");
    }
    const work::MeasuredFile file = measured(wave.bytes(), {work::usual_rules(), {}});
    ASSERT_EQ(file.runs.size(), 1u);
    const auto flag = std::ranges::find(file.runs[0].flags, plan::FlagCode::clipped, &plan::Flag::code);
    ASSERT_NE(flag, file.runs[0].flags.end());
    EXPECT_TRUE(flag->message.starts_with("Column 1: sample ")) << flag->message;
}

std::string text_of(const work::MeasuredFile& file) {
    nlohmann::json out = nlohmann::json::array();
    for (const work::MeasuredRun& run : file.runs) {
        nlohmann::json one = record::json_of(run.figures);
        one["run"] = run.run_id;
        for (const plan::Flag& flag : run.flags) one["flags"].push_back(record::json_of(flag));
        out.push_back(std::move(one));
    }
    return record::canonical_text(out);
}

TEST(Conversion, ToHdf5ChangesNoFigureOfTheExamples) {
    const work::MeasureRequest request{work::usual_rules(), {}};
    std::size_t files = 0;
    for (const char* order : {"halyard-cloth", "film-insulator"})
        for (const auto& entry : std::filesystem::directory_iterator(EBBTIDE_SOURCE_DIR "/examples/" +
                                                                     std::string(order) + "/recordings")) {
            const std::string original = bytes_of(entry.path());
            const std::string before = text_of(measured(original, request));
            EXPECT_EQ(text_of(measured(recording::testing_support::converted(original), request)), before)
                << entry.path();
            EXPECT_NE(before, "[]\n");
            ++files;
        }
    EXPECT_EQ(files, 30u);
}
TEST(Conversion, ToHdf5ChangesNoFigureOfAnySound) {
    for (std::uint64_t seed = 1; seed <= 20; ++seed) {
        const double share = static_cast<double>(seed) / 20;
        const std::string original =
            charge_and_fall(0.3 + 0.6 * share, 0.02 + 0.2 * (1 - share), seed).bytes();
        const work::MeasureRequest request{work::usual_rules(), {}};
        const std::string before = text_of(measured(original, request));
        EXPECT_NE(before, "[]\n") << seed;
        EXPECT_EQ(text_of(measured(recording::testing_support::converted(original), request)), before)
            << seed;
    }
}

}  // namespace
