// The chapter on laws: what was fitted, what it leaves, what lies beyond the record, and the draws beside the
// slopes.

#include <gtest/gtest.h>

#include "report/invented_laws.hpp"
#include "report/law_words.hpp"
#include "report/report_page.hpp"
#include "report/residual_plot.hpp"
#include "report/words.hpp"

namespace {

using namespace ebbtide;
using namespace ebbtide::testing_support;

std::size_t count_of(const std::string& page, const std::string& text) {
    std::size_t count = 0;
    for (auto at = page.find(text); at != std::string::npos; at = page.find(text, at + 1)) ++count;
    return count;
}

TEST(LawsChapter, NamesTheLawOfEachRunWithItsTimeConstant) {
    const std::string page = html_of(report_with_laws());
    EXPECT_TRUE(holds(page, "The law of the fall"));
    const report::ReportInput input = report_with_laws();
    for (const judge::JudgedRun& run : input.record.judgement.runs)
        EXPECT_EQ(holds(page, report::shape_text(run.figures->law->candidates[0])), run.counts)
            << run.run_id << ": of a run that does not count a law says little";
    EXPECT_TRUE(holds(page, "power, 4.4 above"));
}

TEST(LawsChapter, SaysPlainlyWhenNoLawDescribesARun) {
    const std::string page = html_of(report_with_laws());
    EXPECT_TRUE(holds(page, "none; closest: exponential"));
    EXPECT_EQ(count_of(page, "none; closest"), 1u) << "of one run only";
}

TEST(LawsChapter, StandsOnlyWhereLawsWereFitted) {
    EXPECT_FALSE(holds(html_of(invented_report()), "The law of the fall"));
}

TEST(LawsChapter, DrawsTheDecidingRunAndAPanelForEachSpecimen) {
    const std::string page = html_of(report_with_laws());
    EXPECT_TRUE(holds(page, "on a logarithmic scale with its law"));
    EXPECT_TRUE(holds(page, "Residuals of the laws of W1, W2, F1, F2, W3, F3"));
}

TEST(LawsChapter, KeepsExtrapolatedTimesApartFromMeasuredOnes) {
    const std::string page = html_of(report_with_laws());
    EXPECT_TRUE(holds(page, "Beyond the record: extrapolated, not measured"));
    EXPECT_TRUE(holds(page, "≈ 7.14 (6.60 to 7.90)")) << "with the sign and its interval";
    EXPECT_FALSE(holds(page, "7.14(")) << "never as a measured time is written";
}

TEST(ExtrapolatedResult, IsMarkedWhereverItStands) {
    report::ReportInput input = report_with_laws();
    judge::JudgedRun& run = input.record.judgement.runs.back();
    decay::LevelFigure& tenth = run.figures->levels[2];
    tenth.status = decay::LevelStatus::extrapolated;
    tenth.beyond = run.figures->law->extrapolated[0];
    tenth.decay_s = 7.14;
    tenth.u_decay_s = 0.4;
    EXPECT_EQ(report::decay_text(tenth), "≈ 7.14 (6.60 to 7.90), extrapolated");
    const std::string page = html_of(input);
    EXPECT_TRUE(holds(page, "≈ 7.14 (6.60 to 7.90), extrapolated"));
    EXPECT_TRUE(holds(page, "1: extrapolated<")) << "beside its dot, which is open";
}

TEST(UncertaintyChapter, PutsTheDrawsBesideTheSlopes) {
    report::ReportInput input = report_with_laws();
    EXPECT_TRUE(holds(html_of(input), "Monte Carlo ")) << "JCGM 101:2008";
    EXPECT_TRUE(holds(html_of(input), ", agree"));
    for (judge::JudgedRun& run : input.record.judgement.runs)
        for (decay::LevelFigure& level : run.figures->levels)
            if (level.monte_carlo) {
                level.monte_carlo->agrees = false;
                level.monte_carlo->high_s *= 1.05;
            }
    EXPECT_TRUE(holds(html_of(input), ", differ"));
}

TEST(MonteCarloLine, IsWrittenToTheDigitsOfItsUncertainty) {
    decay::LevelFigure figure;
    figure.status = decay::LevelStatus::measured;
    figure.decay_s = 0.5135;
    figure.budget = {{"zero", 0.0135, "s", 1, {}, decay::Scope::run, ""}};
    figure.u_decay_s = 0.0135;
    figure.monte_carlo = decay::MonteCarloTime{0.513, 0.014, 0.486, 0.541, 100'000, true, true, 0};
    // 1.96 is the normal 97.5 % quantile: 0.5135 -+ 1.96 * 0.0135.
    EXPECT_EQ(report::monte_carlo_text(figure),
              "Monte Carlo 0.486 to 0.541 s, u 0.014 s; slopes 0.487 to 0.540 s, agree");
    figure.monte_carlo->agrees = false;
    figure.monte_carlo->beyond = 0.03;
    figure.monte_carlo->stable = false;
    EXPECT_EQ(
        report::monte_carlo_text(figure),
        "Monte Carlo 0.486 to 0.541 s, u 0.014 s; slopes 0.487 to 0.540 s, differ; 3.0 % of the draws lie "
        "beyond the known part of the fall; not yet stable after 100000 draws");
}

TEST(LawWords, GiveSharesOfSeveralParts) {
    decay::LawCandidate two;
    two.kind = decay::LawKind::two_exponentials;
    two.parameters = {{"amplitude_1_V", 3000, 20.0, fit::Standing::free},
                      {"time_constant_1_s", 0.101, 0.004, fit::Standing::free},
                      {"amplitude_2_V", 1000, 20.0, fit::Standing::free},
                      {"time_constant_2_s", 1.2, 0.06, fit::Standing::free}};
    EXPECT_EQ(report::shape_text(two), "T1 0.1010(40) s (75 %), T2 1.200(60) s (25 %)");
    two.parameters[3].standing = fit::Standing::at_bound;
    two.parameters[3].standard_error.reset();
    EXPECT_EQ(report::shape_text(two), "T1 0.1010(40) s (75 %), T2 at the end of its range (25 %)");
}

TEST(LawWords, SayWhyThereIsNoLaw) {
    decay::LawFigures law;
    EXPECT_TRUE(report::law_sentence(law).starts_with("not fitted"));
    law.missing = "the record ends at the release";
    EXPECT_EQ(report::law_sentence(law), "not fitted: the record ends at the release");
    law = invented_law(0.2, 5000, 0, 1);
    EXPECT_EQ(report::law_sentence(law), "exponential, T 0.2000(12) s");
    law.adequate.reset();
    EXPECT_EQ(report::law_sentence(law),
              "exponential, T 0.2000(12) s; whether it describes the fall was not judged");
    law.chosen.reset();
    EXPECT_TRUE(report::law_sentence(law).starts_with("none chosen"));
}

TEST(LawWords, LeaveTheEndOfAnIntervalOpen) {
    EXPECT_EQ(report::extrapolated_text({level_of("0.1"), 5.1, 4.2, 7.0}), "5.10 (4.20 to 7.00)");
    EXPECT_EQ(report::extrapolated_text({level_of("0.1"), 5.1, 4.2, {}}), "5.10 (4.20 to never)");
    EXPECT_EQ(report::extrapolated_text({level_of("0.1"), {}, 4.2, {}}), "never (not before 4.20)");
    EXPECT_EQ(report::extrapolated_text({level_of("0.1"), {}, {}, {}}), "never");
}

TEST(ResidualPlot, HoldsAllThatItDrawsWithinItsFrame) {
    for (const double wave : {0.0, 40.0}) {
        report::ReportInput input = report_with_laws();
        judge::JudgedRun& run = input.record.judgement.runs[0];
        run.figures->law = invented_law(0.15, 4900, wave, 7);
        const report::Picture fit =
            report::fit_plot("W1", "exponential", {&run, &input.traces.at(run.run_id)}, 499);
        const std::vector<report::Picture> rows =
            report::residual_panels(std::vector<report::ResidualPanel>{{"W1", {&run}}}, 499);
        ASSERT_EQ(rows.size(), 1u);
        for (const report::Picture* picture : {&fit, &rows[0]})
            for (const report::Shape& shape : picture->shapes) {
                const auto inside = [&](report::Point p) {
                    EXPECT_TRUE(std::isfinite(p.x) && std::isfinite(p.y));
                    EXPECT_GE(p.x, -0.01);
                    EXPECT_LE(p.x, picture->width + 0.01);
                    EXPECT_GE(p.y, -0.01);
                    EXPECT_LE(p.y, picture->height + 0.01);
                };
                if (const auto* line = std::get_if<report::Polyline>(&shape))
                    for (const report::Point p : line->points) inside(p);
                if (const auto* area = std::get_if<report::Area>(&shape))
                    for (const report::Point p : area->points) inside(p);
                if (const auto* disc = std::get_if<report::Disc>(&shape)) inside(disc->centre);
                if (const auto* label = std::get_if<report::Label>(&shape)) inside(label->at);
            }
    }
}

TEST(ResidualPlot, CountsInDecadesWhereThePointsLieThatWay) {
    EXPECT_TRUE(report::wants_decades(invented_law(0.2, 5000, 0, 1).residuals));
    std::vector<decay::ResidualPoint> even(40);
    for (std::size_t i = 0; i < even.size(); ++i) even[i].time_s = 0.05 * static_cast<double>(i + 1);
    EXPECT_FALSE(report::wants_decades(even));
    even.front().time_s = 0;
    EXPECT_FALSE(report::wants_decades(even)) << "zero has no logarithm";
    EXPECT_FALSE(report::wants_decades({}));
}

}  // namespace
