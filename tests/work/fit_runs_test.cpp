// Laws of the falls of a recording: from samples to what is asked of them, and what orders keep.

#include "work/fit_runs.hpp"

#include <fmt/format.h>
#include <gtest/gtest.h>

#include <cmath>
#include <random>

#include "paperwork/paperwork.hpp"
#include "support/program.hpp"

namespace {

using namespace ebbtide;
using namespace ebbtide::testing_support;

/// 1 s of zero, 2 s of hold at 5000 V, then an exponential of 0.4 s for `fall_s`; noise of 8 V, 1 ms apart.
std::string recorded(double fall_s, const std::function<double(double)>& keep) {
    std::mt19937_64 random(20261125);
    std::normal_distribution<double> normal;
    std::string text = "time (s),specimen voltage (V),electrode voltage (V)\n";
    const int rows = 3000 + static_cast<int>(1000 * fall_s);
    for (int i = 0; i < rows; ++i) {
        const double t = (i - 3000) * 1e-3;
        const double electrode = i < 1000 || t >= 0 ? 0 : 5000;
        const double specimen = t < 0 ? electrode : 5000 * keep(t);
        text += fmt::format("{:.3f},{:.3f},{:.3f}\n", i * 1e-3, specimen + 8 * normal(random),
                            electrode + normal(random));
    }
    return text;
}

double exponential(double t) {
    return std::exp(-t / 0.4);
}

work::FittedFile fitted(const std::string& bytes, work::MeasureRequest request) {
    auto source = recording::open_bytes(bytes, "trace.csv", {});
    EXPECT_TRUE(source.ok());
    auto file = work::fit_runs(**source, std::move(request));
    EXPECT_TRUE(file.ok()) << (file.ok() ? "" : file.error().text());
    return file.ok() ? *file : work::FittedFile{};
}

TEST(FitRuns, FindsTheLawThatARecordingWasMadeBy) {
    const auto file = fitted(recorded(3, exponential), {work::usual_rules(), {}});
    ASSERT_EQ(file.runs.size(), 1u);
    const decay::LawFigures& law = file.runs[0].law;
    EXPECT_EQ(law.missing, "");
    ASSERT_TRUE(law.chosen);
    const decay::LawCandidate& chosen = law.candidates[*law.chosen];
    EXPECT_EQ(chosen.kind, decay::LawKind::exponential);
    EXPECT_EQ(law.adequate, true);
    for (const fit::Parameter& p : chosen.parameters)
        if (p.name == "time_constant_s") {
            ASSERT_TRUE(p.standard_error);
            EXPECT_NEAR(p.value, 0.4, 4 * *p.standard_error);
        }
    EXPECT_EQ(file.runs[0].run_id.size(), 64u);
}

TEST(FitRuns, SaysWhenNoneOfTheLawsDescribesTheFall) {
    // A swell on the fall: a source that was not steady, or a touched cable.
    const auto file =
        fitted(recorded(3, [](double t) { return exponential(t) + 0.02 * std::sin(12 * t) * std::exp(-t); }),
               {work::usual_rules(), {}});
    ASSERT_EQ(file.runs.size(), 1u);
    EXPECT_EQ(file.runs[0].law.adequate, false);
    EXPECT_TRUE(std::ranges::any_of(file.runs[0].flags, [](const plan::Flag& flag) {
        return flag.code == plan::FlagCode::no_law && !flag.message.empty();
    }));
}

TEST(FitRuns, RefusesASheetInAFixtureThatNobodyStated) {
    decay::LawQuestion question;
    question.kinds = {decay::LawKind::hanging_sheet};
    for (const auto& bench : {std::optional<plan::Bench>(), std::optional<plan::Bench>(plan::Bench{})}) {
        const auto problem = work::problem_of(question, bench);
        ASSERT_TRUE(problem);
        EXPECT_NE(problem->remedy.find("clamp_gap_mm"), std::string::npos);
    }
    const auto stated = paperwork::parse_bench(
        bytes_of(EBBTIDE_SOURCE_DIR "/examples/halyard-cloth/bench.toml"), "bench.toml");
    ASSERT_TRUE(stated.ok());
    EXPECT_FALSE(work::problem_of(question, *stated));
}

TEST(Laws, AreFittedWhereAskedForOnly) {
    auto source = recording::open_bytes(recorded(2, exponential), "trace.csv", {});
    const auto plain = work::measure(**source, {work::usual_rules(), {}});
    ASSERT_TRUE(plain.ok());
    ASSERT_EQ(plain->runs.size(), 1u);
    EXPECT_FALSE(plain->runs[0].figures.law);
    for (const auto& level : plain->runs[0].figures.levels) EXPECT_FALSE(level.monte_carlo);
}

TEST(Extrapolation, StandsForAResultOnlyWhereTheMethodAllowsIt) {
    const auto bytes = recorded(0.7, exponential);  // ends at 17 %
    for (const bool allowed : {false, true}) {
        work::MeasureRequest request{work::usual_rules(), {}};
        request.rules.extrapolation_allowed = allowed;
        request.laws.emplace();
        auto source = recording::open_bytes(bytes, "trace.csv", {});
        const auto file = work::measure(**source, request);
        ASSERT_TRUE(file.ok());
        ASSERT_EQ(file->runs.size(), 1u);
        const decay::LevelFigure& tenth = file->runs[0].figures.levels[2];
        ASSERT_TRUE(file->runs[0].figures.law);
        ASSERT_FALSE(file->runs[0].figures.law->extrapolated.empty()) << "the laws speak either way";
        EXPECT_TRUE(tenth.at_least_s) << "the bound stays";
        EXPECT_EQ(tenth.status, allowed ? decay::LevelStatus::extrapolated : decay::LevelStatus::not_reached);
        EXPECT_EQ(tenth.decay_s.has_value(), allowed);
        EXPECT_FALSE(tenth.monte_carlo);
        if (!allowed) continue;
        // An exponential passes a tenth after ln 10 time constants.
        EXPECT_NEAR(*tenth.decay_s, 0.4 * std::log(10), 4 * *tenth.u_decay_s);
        EXPECT_LT(*tenth.u_decay_s, 0.1);
    }
}

}  // namespace
