#include "work/law_agreement.hpp"

#include <fmt/ranges.h>
#include <gtest/gtest.h>

#include <nlohmann/json.hpp>

#include "support/every_target.hpp"
#include "support/example_order.hpp"
#include "work/verify.hpp"

namespace ebbtide::work {
namespace {

using nlohmann::json;

const json law = json::parse(R"({
    "chosen": "exponential", "adequate": true, "doubt": "", "effective_samples": 400.0,
    "models": [
        {"name": "exponential", "outcome": "converged", "reason": "", "not_told_apart": "",
         "parameters": {"amplitude_V": 5000.0, "time_constant_s": 0.2},
         "standard_errors": {"amplitude_V": 10.0, "time_constant_s": 0.001},
         "standings": {"amplitude_V": "free", "time_constant_s": "free"},
         "rss": 2000.0, "aicc": 1500.0, "weight": 1.0, "effective_samples": 400.0, "extrapolated": []},
        {"name": "stretched", "outcome": "converged", "reason": "", "not_told_apart": "",
         "parameters": {"amplitude_V": 5100.0, "time_constant_s": 1e-7, "exponent": 0.02},
         "standard_errors": {"amplitude_V": 20.0, "time_constant_s": null, "exponent": null},
         "standings": {"amplitude_V": "free", "time_constant_s": "not_determined", "exponent": "at_bound"},
         "rss": 2500.0, "aicc": null, "weight": 0.0, "effective_samples": 400.0, "extrapolated": []}],
    "extrapolated": [{"level": 0.1, "level_kind": "fraction", "decay_s": 2.0, "low_s": 1.5, "high_s": 2.5}],
    "residuals": [{"time_s": 0.1, "residual_V": 0.5, "u_V": 2.0, "law_V": 3000.0}],
    "sides": null})");

/// The law with one value changed, as verify() sees it.
bool agrees(const char* place, const json& value) {
    json is = law;
    is[json::json_pointer(place)] = value;
    std::size_t compared = 0;
    return differences_of({{"law", law}}, {{"law", is}}, compared).empty();
}

TEST(AgreementOfLaws, IsWithinAThousandthOfAStandardError) {
    EXPECT_TRUE(agrees("/models/0/parameters/time_constant_s", 0.2 + 0.9e-6));
    EXPECT_FALSE(agrees("/models/0/parameters/time_constant_s", 0.2 + 1.1e-6));
    EXPECT_TRUE(agrees("/models/0/standard_errors/amplitude_V", 10.009));
    EXPECT_FALSE(agrees("/models/0/standard_errors/amplitude_V", 10.011));
    EXPECT_TRUE(agrees("/models/0/rss", 2000.001));
    EXPECT_FALSE(agrees("/models/0/rss", 2000.003));
    EXPECT_TRUE(agrees("/residuals/0/residual_V", 0.501));
    EXPECT_FALSE(agrees("/residuals/0/residual_V", 0.503));
    EXPECT_TRUE(agrees("/extrapolated/0/high_s", 2.501));
    EXPECT_FALSE(agrees("/extrapolated/0/high_s", 2.503));
}

TEST(AgreementOfLaws, AsksOnlyForTheSumOfSquaresWhereTheSamplesDoNotDetermineAParameter) {
    EXPECT_TRUE(agrees("/models/1/parameters/exponent", 0.9));
    EXPECT_TRUE(agrees("/models/1/standard_errors/amplitude_V", 30.0));
    EXPECT_TRUE(agrees("/models/1/outcome", "stalled"));
    EXPECT_FALSE(agrees("/models/1/rss", 2600.0));
    EXPECT_FALSE(agrees("/models/1/aicc", 1490.0)) << "determined now";
}

TEST(AgreementOfLaws, IsWordForWordInWhatIsConcluded) {
    EXPECT_FALSE(agrees("/chosen", "stretched"));
    EXPECT_FALSE(agrees("/adequate", false));
    EXPECT_FALSE(agrees("/models/0/outcome", "stalled"));
    EXPECT_FALSE(agrees("/models/0/standings/time_constant_s", "at_bound"));
    EXPECT_FALSE(agrees("/models/0/name", "power"));
    EXPECT_FALSE(agrees("/models", json::array()));
    EXPECT_FALSE(agrees("/extrapolated/0/decay_s", nullptr));
}

using AgreementOfProcessors = testing_support::ExampleOrder;

TEST_F(AgreementOfProcessors, AReportMadeWithWideVectorsIsVerifiedWithNarrowOnes) {
    const auto files = folder_files(folder());
    auto judged = judge_order(*files, Instant{}, {}, {}, {}, full_depth);
    ASSERT_TRUE(judged.ok());
    const auto pdf = report::to_pdf(*report_input(*files, std::move(judged).value()));
    ASSERT_TRUE(pdf.ok());
    test::on_narrowest_target([&] {
        const auto verified = verify(*pdf);
        ASSERT_TRUE(verified.ok());
        EXPECT_TRUE(verified->differences.empty())
            << fmt::format("{}", fmt::join(verified->differences, "\n"));
        EXPECT_GT(verified->figures_compared, 3000u);
    });
}

}  // namespace
}  // namespace ebbtide::work
