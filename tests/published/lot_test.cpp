// Statistics of a lot against tables, worked examples and general-purpose programs.
//
// "R 4.2.2" and its package survival 3.5-3 stand for figures computed with these; the scripts are one line of
// the function named.

#include <gtest/gtest.h>

#include <array>
#include <cmath>
#include <fstream>
#include <optional>
#include <sstream>
#include <string>
#include <string_view>
#include <vector>

#include "published/references/random_lot.hpp"
#include "stats/censored_fit.hpp"
#include "stats/censored_regression.hpp"
#include "stats/comparison.hpp"
#include "stats/distributions.hpp"
#include "stats/kaplan_meier.hpp"
#include "stats/moments.hpp"
#include "stats/normality.hpp"
#include "stats/order_statistics.hpp"
#include "stats/proportion.hpp"
#include "stats/replicates.hpp"
#include "stats/sampling_plan.hpp"
#include "stats/tolerance.hpp"
#include "stats/turnbull.hpp"
#include "support/agrees.hpp"

namespace ebbtide::stats {
namespace {

using testing_support::agrees;

struct FactorRow {
    int n;
    std::array<std::string_view, 7> factors;
};
// Share of the lot and confidence of the columns of both tables.
constexpr std::array<Claim, 7> columns{Claim{.90, .90}, Claim{.90, .95}, Claim{.95, .95}, Claim{.99, .95},
                                       Claim{.90, .99}, Claim{.95, .99}, Claim{.99, .99}};

// R 4.2.2, qt(confidence, n - 1, qnorm(share) * sqrt(n)) / sqrt(n). R warns of limited precision in a few
// calls, mainly n = 100 with 99 %. n = 10 with 95/95 is 2.911 in the tables of handbooks, 90/95 with
// 10 2.355.
TEST(ToleranceFactors, OneSidedAsComputedWithAnotherNoncentralT) {
    constexpr std::array rows{
        FactorRow{2, {"10.2527", "20.5815", "26.2597", "37.0936", "103.0286", "131.4263", "185.6170"}},
        FactorRow{3, {"4.2582", "6.1553", "7.6559", "10.5527", "13.9954", "17.3702", "23.8956"}},
        FactorRow{4, {"3.1878", "4.1619", "5.1439", "7.0424", "7.3799", "9.0835", "12.3873"}},
        FactorRow{5, {"2.7423", "3.4066", "4.2027", "5.7411", "5.3617", "6.5783", "8.9390"}},
        FactorRow{6, {"2.4937", "3.0063", "3.7077", "5.0620", "4.4111", "5.4055", "7.3346"}},
        FactorRow{7, {"2.3326", "2.7554", "3.3995", "4.6417", "3.8591", "4.7279", "6.4119"}},
        FactorRow{8, {"2.2186", "2.5819", "3.1873", "4.3539", "3.4972", "4.2853", "5.8118"}},
        FactorRow{9, {"2.1329", "2.4538", "3.0312", "4.1430", "3.2404", "3.9723", "5.3889"}},
        FactorRow{10, {"2.0657", "2.3546", "2.9110", "3.9811", "3.0479", "3.7383", "5.0737"}},
        FactorRow{12, {"1.9662", "2.2101", "2.7363", "3.7471", "2.7767", "3.4099", "4.6330"}},
        FactorRow{15, {"1.8668", "2.0684", "2.5660", "3.5201", "2.5215", "3.1024", "4.2224"}},
        FactorRow{20, {"1.7652", "1.9260", "2.3960", "3.2952", "2.2756", "2.8079", "3.8316"}},
        FactorRow{25, {"1.7015", "1.8381", "2.2917", "3.1580", "2.1290", "2.6332", "3.6011"}},
        FactorRow{30, {"1.6571", "1.7773", "2.2198", "3.0639", "2.0298", "2.5155", "3.4465"}},
        FactorRow{40, {"1.5979", "1.6972", "2.1255", "2.9409", "1.9017", "2.3641", "3.2486"}},
        FactorRow{43, {"1.5848", "1.6796", "2.1048", "2.9141", "1.8740", "2.3314", "3.2059"}},
        FactorRow{50, {"1.5595", "1.6456", "2.0650", "2.8624", "1.8208", "2.2689", "3.1246"}},
        FactorRow{60, {"1.5320", "1.6089", "2.0222", "2.8071", "1.7641", "2.2023", "3.0383"}},
        FactorRow{100, {"1.4701", "1.5267", "1.9265", "2.6840", "1.6390", "2.0563", "2.8496"}}};
    for (const FactorRow& row : rows)
        for (std::size_t i = 0; i < columns.size(); ++i)
            EXPECT_TRUE(agrees(one_sided_factor(row.n, columns[i]), row.factors[i]))
                << "n " << row.n << ", column " << i;
}

// R 4.2.2, the double integral by integrate() and uniroot().
TEST(ToleranceFactors, TwoSidedAsComputedByAnotherQuadrature) {
    constexpr std::array rows{
        FactorRow{2, {"15.5123", "31.0922", "36.5192", "46.9444", "155.5690", "182.7201", "234.8775"}},
        FactorRow{3, {"5.7881", "8.3059", "9.7888", "12.6471", "18.7824", "22.1308", "28.5857"}},
        FactorRow{4, {"4.1571", "5.3681", "6.3411", "8.2207", "9.4161", "11.1178", "14.4054"}},
        FactorRow{5, {"3.4993", "4.2906", "5.0769", "6.5980", "6.6549", "7.8697", "10.2201"}},
        FactorRow{6, {"3.1406", "3.7326", "4.4222", "5.7577", "5.3832", "6.3735", "8.2915"}},
        FactorRow{7, {"2.9128", "3.3895", "4.0196", "5.2411", "4.6576", "5.5196", "7.1907"}},
        FactorRow{8, {"2.7541", "3.1560", "3.7455", "4.8892", "4.1886", "4.9677", "6.4790"}},
        FactorRow{9, {"2.6367", "2.9861", "3.5459", "4.6328", "3.8601", "4.5809", "5.9801"}},
        FactorRow{10, {"2.5459", "2.8563", "3.3934", "4.4369", "3.6166", "4.2942", "5.6102"}},
        FactorRow{12, {"2.4139", "2.6703", "3.1747", "4.1555", "3.2786", "3.8959", "5.0959"}},
        FactorRow{15, {"2.2855", "2.4922", "2.9649", "3.8853", "2.9671", "3.5285", "4.6212"}},
        FactorRow{20, {"2.1583", "2.3188", "2.7603", "3.6210", "2.6752", "3.1838", "4.1747"}},
        FactorRow{25, {"2.0813", "2.2151", "2.6377", "3.4621", "2.5059", "2.9835", "3.9149"}},
        FactorRow{30, {"2.0289", "2.1451", "2.5549", "3.3546", "2.3940", "2.8509", "3.7425"}},
        FactorRow{40, {"1.9611", "2.0553", "2.4484", "3.2159", "2.2528", "2.6835", "3.5244"}},
        FactorRow{43, {"1.9464", "2.0359", "2.4254", "3.1860", "2.2228", "2.6479", "3.4779"}},
        FactorRow{50, {"1.9183", "1.9990", "2.3816", "3.1288", "2.1660", "2.5804", "3.3897"}},
        FactorRow{100, {"1.8232", "1.8748", "2.2339", "2.9355", "1.9783", "2.3572", "3.0976"}}};
    for (const FactorRow& row : rows)
        for (std::size_t i = 0; i < columns.size(); ++i)
            EXPECT_TRUE(agrees(two_sided_factor(row.n, columns[i]), row.factors[i]))
                << "n " << row.n << ", column " << i;
}

// NIST/SEMATECH e-Handbook 7.2.6.3, 43 wafers, 90 % of them with 99 %: Natrella's approximation 1.8752 and
// Howe's 2.2173 lie near the exact factors, within 0.1 % and 0.3 %.
TEST(ToleranceFactors, LieNearTheApproximationsOfTheHandbook) {
    EXPECT_NEAR(one_sided_factor(43, {.90, .99}), 1.8752, 0.0019);
    EXPECT_NEAR(two_sided_factor(43, {.90, .99}), 2.2173, 0.0067);
}

// Figures that any handbook of acceptance testing has; from 1 - p^n and 1 - n p^(n-1) + (n-1) p^n.
TEST(OrderStatistics, NeedAsManySpecimensAsHandbooksSay) {
    EXPECT_EQ(least_specimens_one_sided({.90, .90}), 22);
    EXPECT_EQ(least_specimens_one_sided({.90, .95}), 29);
    EXPECT_EQ(least_specimens_one_sided({.95, .95}), 59);
    EXPECT_EQ(least_specimens_one_sided({.99, .95}), 299);
    EXPECT_EQ(least_specimens_one_sided({.95, .90}), 45);
    EXPECT_EQ(least_specimens_one_sided({.99, .99}), 459);
    EXPECT_EQ(least_specimens_one_sided({.99, .90}), 230);
    EXPECT_EQ(least_specimens_two_sided({.90, .90}), 38);
    EXPECT_EQ(least_specimens_two_sided({.90, .95}), 46);
    EXPECT_EQ(least_specimens_two_sided({.95, .95}), 93);
    EXPECT_EQ(least_specimens_two_sided({.99, .95}), 473);
}

// R 4.2.2, binom.test() and qbeta().
TEST(ClopperPearson, AsComputedWithAnotherProgram) {
    struct Row {
        int found, n;
        std::string_view low, high, upper;
    };
    constexpr std::array rows{Row{0, 10, "0", "0.3084971", "0.2588656"},
                              Row{1, 10, "0.002528579", "0.4450161", "0.3941633"},
                              Row{0, 20, "0", "0.1684335", "0.1391083"},
                              Row{1, 20, "0.001265089", "0.2487328", "0.2161062"},
                              Row{3, 20, "0.03207094", "0.3789268", "0.3436638"},
                              Row{5, 50, "0.03327509", "0.2181354", "0.198833"},
                              Row{4, 20, "0.057334", "0.436614", "0.4010281"},
                              Row{10, 100, "0.04900469", "0.1762226", "0.1637176"},
                              Row{0, 59, "0", "0.0606089", "0.04950761"},
                              Row{0, 22, "0", "0.1543725", "0.1273054"}};
    for (const Row& row : rows) {
        const ConfidenceInterval interval = clopper_pearson(row.found, row.n, 0.95);
        EXPECT_TRUE(agrees(*interval.low, row.low)) << row.found << " of " << row.n;
        EXPECT_TRUE(agrees(*interval.high, row.high)) << row.found << " of " << row.n;
        EXPECT_TRUE(agrees(clopper_pearson_upper(row.found, row.n, 0.95), row.upper));
    }
    // Figures that the program prints for three of three: 1 - 0.05^(1/3), by hand.
    EXPECT_TRUE(agrees(clopper_pearson_upper(0, 3, 0.95), "0.6316"));
}

// R 4.2.2, both tests at 5 and 1 %; n = 10 also in ISO 5725-2 (2.290, 2.482).
TEST(Grubbs, CriticalValuesAsInTheStandard) {
    struct Row {
        int n;
        std::string_view five, one;
    };
    constexpr std::array rows{Row{3, "1.154", "1.155"},  Row{4, "1.481", "1.496"},  Row{5, "1.715", "1.764"},
                              Row{6, "1.887", "1.973"},  Row{7, "2.020", "2.139"},  Row{8, "2.127", "2.274"},
                              Row{9, "2.215", "2.387"},  Row{10, "2.290", "2.482"}, Row{12, "2.412", "2.636"},
                              Row{15, "2.548", "2.806"}, Row{20, "2.708", "3.001"}, Row{25, "2.822", "3.135"},
                              Row{30, "2.908", "3.236"}, Row{40, "3.036", "3.381"}};
    for (const Row& row : rows) {
        EXPECT_TRUE(agrees(grubbs_critical(row.n, 0.05), row.five)) << row.n;
        EXPECT_TRUE(agrees(grubbs_critical(row.n, 0.01), row.one)) << row.n;
    }
}

std::vector<Observation> handbook_8_2_1_5() {
    std::vector<Observation> sample;
    for (const double time : {10, 32, 56, 98, 122, 181}) sample.push_back(exactly(time));
    for (const double time : {50, 100, 125, 150}) sample.push_back(at_least(time));
    sample.push_back(at_least(200, 10));
    return sample;
}

// NIST/SEMATECH e-Handbook 8.2.1.5: shares and numbers at risk. Standard errors: R, survfit().
TEST(KaplanMeier, AsInTheHandbook) {
    const auto steps = kaplan_meier(handbook_8_2_1_5());
    ASSERT_TRUE(steps && steps->size() == 6);
    constexpr std::array<double, 6> at_risk{20, 19, 17, 16, 14, 11};
    constexpr std::array<std::string_view, 6> survival{"0.95",     "0.90",     "0.847059",
                                                       "0.794118", "0.737395", "0.670359"};
    constexpr std::array<std::string_view, 6> errors{"0.048734",  "0.067082",  "0.0813883",
                                                     "0.0919213", "0.1013568", "0.1121407"};
    for (std::size_t i = 0; i < 6; ++i) {
        EXPECT_EQ((*steps)[i].at_risk, at_risk[i]);
        EXPECT_TRUE(agrees((*steps)[i].survival, survival[i])) << i;
        EXPECT_TRUE(agrees(*(*steps)[i].standard_error, errors[i])) << i;
    }
}

std::vector<Observation> maintained() {
    return {exactly(9),  exactly(13), at_least(13), exactly(18), exactly(23),  at_least(28),
            exactly(31), exactly(34), at_least(45), exactly(48), at_least(161)};
}
std::vector<Observation> not_maintained() {
    return {exactly(5, 2), exactly(8, 2), exactly(12), at_least(16), exactly(23),
            exactly(27),   exactly(30),   exactly(33), exactly(43),  exactly(45)};
}

// Data set aml of R's package survival (R. G. Miller, Survival Analysis, 1981), survfit(): ties, a bound at
// the time of an end, and an end with nobody left.
TEST(KaplanMeier, AsComputedWithSurvfit) {
    const auto check = [](const std::vector<Observation>& sample,
                          const std::vector<std::string_view>& survival,
                          const std::vector<std::string_view>& errors) {
        const auto steps = kaplan_meier(sample);
        ASSERT_TRUE(steps && steps->size() == survival.size());
        for (std::size_t i = 0; i < survival.size(); ++i) {
            EXPECT_TRUE(agrees((*steps)[i].survival, survival[i])) << i;
            ASSERT_EQ((*steps)[i].standard_error.has_value(), i < errors.size());
            if (i < errors.size()) {
                EXPECT_TRUE(agrees(*(*steps)[i].standard_error, errors[i])) << i;
            }
        }
    };
    check(maintained(), {"0.909091", "0.818182", "0.715909", "0.613636", "0.490909", "0.368182", "0.184091"},
          {"0.0866784", "0.1162913", "0.1396650", "0.1526323", "0.1641933", "0.1626689", "0.1534927"});
    check(not_maintained(),
          {"0.8333333", "0.6666667", "0.5833333", "0.4861111", "0.3888889", "0.2916667", "0.1944444",
           "0.0972222", "0"},
          {"0.1075829", "0.1360828", "0.1423188", "0.1481301", "0.1469862", "0.1387152", "0.1218745",
           "0.0918664"});
}

std::vector<Observation> handbook_8_4_1_3() {
    std::vector<Observation> sample;
    for (const double time : {54, 187, 216, 240, 244, 335, 361, 373, 375, 386})
        sample.push_back(exactly(time));
    sample.push_back(at_least(500, 10));
    return sample;
}

// NIST/SEMATECH e-Handbook 8.4.1.3 prints eta 606.5280, beta 1.7208, log-likelihood -75.135; more digits and
// the standard errors of the logarithms from R, survreg().
TEST(CensoredFit, WeibullAsInTheHandbook) {
    const CensoredFit fit = fit_censored(handbook_8_4_1_3(), Family::weibull);
    ASSERT_EQ(fit.outcome, FitOutcome::fitted);
    EXPECT_TRUE(agrees(std::exp(fit.location), "606.527558"));
    EXPECT_TRUE(agrees(1 / fit.scale, "1.720797261"));
    EXPECT_TRUE(agrees(fit.log_likelihood, "-75.13461816"));
    EXPECT_TRUE(agrees(std::sqrt(fit.variance_location), "0.2059439090"));
    EXPECT_TRUE(agrees(std::sqrt(fit.variance_log_scale), "0.2918127631"));
}

// The same data. The handbook prints an AIC of 154.39; the rest from R, survreg().
TEST(CensoredFit, LognormalAsComputedWithSurvreg) {
    const CensoredFit fit = fit_censored(handbook_8_4_1_3(), Family::lognormal);
    ASSERT_EQ(fit.outcome, FitOutcome::fitted);
    EXPECT_TRUE(agrees(fit.location, "6.226015069"));
    EXPECT_TRUE(agrees(fit.scale, "0.9089140394"));
    EXPECT_TRUE(agrees(fit.log_likelihood, "-75.19627078"));
    EXPECT_TRUE(agrees(4 - 2 * fit.log_likelihood, "154.39"));
    EXPECT_TRUE(agrees(std::sqrt(fit.variance_location), "0.2504395165"));
    EXPECT_TRUE(agrees(std::sqrt(fit.variance_log_scale), "0.2484219366"));
    EXPECT_TRUE(agrees(std::exp(fit.log_quantile(0.5)), "505.7361389"));
    EXPECT_TRUE(agrees(std::exp(fit.log_quantile(0.9)), "1621.059584"));
    EXPECT_TRUE(agrees(std::exp(fit.log_quantile(0.1)), "157.7789272"));
    EXPECT_TRUE(agrees(fit.log_quantile(0.95), "7.721045623"));
    EXPECT_TRUE(agrees(fit.error_of_log_quantile(0.1), "0.2874734369"));
    EXPECT_TRUE(agrees(fit.error_of_log_quantile(0.9), "0.4585469690"));
    EXPECT_TRUE(agrees(fit.error_of_log_quantile(0.95), "0.5315625547"));
}

// aml as a whole, survreg().
TEST(CensoredFit, LognormalOfBothGroupsTogether) {
    std::vector<Observation> all = maintained();
    for (const Observation& one : not_maintained()) all.push_back(one);
    const CensoredFit fit = fit_censored(all, Family::lognormal);
    EXPECT_TRUE(agrees(fit.location, "3.1944560"));
    EXPECT_TRUE(agrees(fit.scale, "0.929592"));
    EXPECT_TRUE(agrees(std::sqrt(fit.variance_location), "0.2032481"));
    EXPECT_TRUE(agrees(std::log(fit.scale), "-0.0730095"));
    EXPECT_TRUE(agrees(std::sqrt(fit.variance_log_scale), "0.1705340"));
    EXPECT_TRUE(agrees(fit.log_likelihood, "-80.7"));
}

std::vector<Observation> observations_of(const std::vector<references::TimeBounds>& lot) {
    std::vector<Observation> out;
    for (const auto& one : lot)
        out.push_back(one.lower == one.upper  ? exactly(one.lower)
                      : std::isinf(one.upper) ? at_least(one.lower)
                      : one.lower == 0        ? at_most(one.upper)
                                              : between(one.lower, one.upper));
    return out;
}

struct RecordedLot {
    std::vector<Observation> sample;
    std::array<std::optional<double>, 13> figures;  // as the file's second line says, from mu on
};

/// Made anew and held against the sum that the reference saw.
std::vector<RecordedLot> recorded_lots() {
    std::ifstream file(EBBTIDE_SOURCE_DIR "/tests/published/references/lot_fits.csv");
    std::vector<RecordedLot> out;
    for (std::string line; std::getline(file, line);) {
        if (line.starts_with('#')) continue;
        std::istringstream cells(line + ",");
        std::vector<std::optional<double>> numbers;
        for (std::string cell; std::getline(cells, cell, ',');)
            numbers.push_back(cell.empty() ? std::optional<double>() : std::stod(cell));
        EXPECT_EQ(numbers.size(), 16u) << line;
        const auto lot = references::random_lot(static_cast<int>(*numbers[0]));
        double sum = 0;
        for (const auto& one : lot) sum += one.lower + (std::isinf(one.upper) ? 0 : one.upper);
        EXPECT_EQ(static_cast<double>(lot.size()), *numbers[1]);
        EXPECT_NEAR(sum, *numbers[2], 1e-10 * sum) << "another lot than the reference's";
        RecordedLot recorded{observations_of(lot), {}};
        std::copy(numbers.begin() + 3, numbers.end(), recorded.figures.begin());
        out.push_back(std::move(recorded));
    }
    EXPECT_EQ(out.size(), static_cast<std::size_t>(references::all_lots));
    return out;
}

// R's package survival: survreg(), exact and with all kinds of bounds (interval2); six digits.
TEST(CensoredFit, AgreesWithSurvregOnAThousandLots) {
    int fitted = 0, number = 0;
    for (const RecordedLot& lot : recorded_lots()) {
        ++number;
        for (const Family family : {Family::lognormal, Family::weibull}) {
            const CensoredFit fit = fit_censored(lot.sample, family);
            const std::size_t at = family == Family::lognormal ? 0 : 5;
            ASSERT_EQ(fit.fitted(), lot.figures[at].has_value()) << "lot " << number;
            if (!fit.fitted()) continue;
            ++fitted;
            const auto figure = [&](std::size_t i) { return *lot.figures[at + i]; };
            // The location's scale is the spread: a location near 0 has no digits of its own.
            EXPECT_NEAR(fit.location, figure(0), 1e-6 * figure(2)) << "lot " << number;
            EXPECT_NEAR(std::sqrt(fit.variance_location), figure(1), 1e-6 * figure(1)) << "lot " << number;
            EXPECT_NEAR(fit.scale, figure(2), 1e-6 * figure(2)) << "lot " << number;
            EXPECT_NEAR(std::sqrt(fit.variance_log_scale), figure(3), 1e-6 * figure(3)) << "lot " << number;
            EXPECT_NEAR(fit.log_likelihood, figure(4), 1e-6 * (1 + std::abs(figure(4)))) << "lot " << number;
        }
    }
    EXPECT_GT(fitted, 1980);
}

// The same file: survfit(), summed over the times of all ends.
TEST(KaplanMeier, AgreesWithSurvfitOnHundredsOfLots) {
    int compared = 0;
    for (const RecordedLot& lot : recorded_lots()) {
        if (!lot.figures[10]) continue;
        const auto steps = kaplan_meier(lot.sample);
        ASSERT_TRUE(steps);
        double shares = 0, errors = 0;
        for (const SurvivalStep& step : *steps) {
            shares += step.survival;
            errors += step.standard_error.value_or(0);
        }
        EXPECT_NEAR(shares, *lot.figures[10], 1e-6 * shares);
        EXPECT_NEAR(errors, *lot.figures[11], 1e-6 * errors);
        ++compared;
    }
    EXPECT_GT(compared, 480);
}

// The same file: the largest log-likelihood that plain self-consistency finds in numpy, over every point and
// stretch between bounds instead of those that matter; it stops when no distribution gains more than 1e-7.
// (R's own survfit() stops when no share moves by more than 5e-5, which is no figure to compare with.)
TEST(Turnbull, ReachesTheLargestLikelihood) {
    int compared = 0;
    for (const RecordedLot& lot : recorded_lots()) {
        if (!lot.figures[12]) continue;
        const TurnbullEstimate estimate = turnbull(lot.sample);
        EXPECT_TRUE(estimate.converged) << estimate.short_of_largest;
        EXPECT_NEAR(estimate.log_likelihood, *lot.figures[12], 2e-7 * (1 + std::abs(*lot.figures[12])));
        ++compared;
    }
    EXPECT_GT(compared, 240);
}

// NIST StRD, analysis of variance, SiRstv: certified to 15 digits, from data of 7 digits.
TEST(SpecimenVariation, AsCertifiedByNist) {
    const std::vector<std::vector<double>> instruments{{196.3052, 196.1240, 196.1890, 196.2569, 196.3403},
                                                       {196.3042, 196.3825, 196.1669, 196.3257, 196.0422},
                                                       {196.1303, 196.2005, 196.2889, 196.0343, 196.1811},
                                                       {196.2795, 196.1748, 196.1494, 196.1485, 195.9885},
                                                       {196.2119, 196.1051, 196.1850, 196.0052, 196.2090}};
    const auto variation = specimen_variation(instruments);
    ASSERT_TRUE(variation);
    // Nine digits of the certified values: the mean alone takes five of a double's sixteen.
    EXPECT_TRUE(agrees(variation->squares_between, "5.11462616E-02"));
    EXPECT_TRUE(agrees(variation->squares_within, "2.16636560E-01"));
    EXPECT_TRUE(agrees(variation->f_ratio, "1.18046237"));
    EXPECT_TRUE(agrees(std::sqrt(variation->variance_within), "1.04076068E-01"));
    EXPECT_EQ(variation->degrees_between, 4);
    EXPECT_EQ(variation->degrees_within, 20);
}

/// Groups of one lot each, with a covariate for every group or with one that is the group's number.
std::vector<Place> places_of(const std::vector<std::vector<Observation>>& groups, bool own_means) {
    std::vector<Place> out;
    for (std::size_t i = 0; i < groups.size(); ++i) {
        std::vector<double> covariates(own_means ? groups.size() : 2, 0.0);
        if (own_means) {
            covariates[i] = 1;
        } else {
            covariates = {1, static_cast<double>(i)};
        }
        out.push_back({covariates, groups[i]});
    }
    return out;
}

// R's survreg() with a factor, and with a covariate, on 200 sets of three groups (group_fits.py); bounds of
// all kinds among them. Six digits, the scale being that of a location.
TEST(CensoredRegression, AgreesWithSurvregWithAFactorAndWithATrend) {
    std::ifstream file(EBBTIDE_SOURCE_DIR "/tests/published/references/group_fits.csv");
    int compared = 0;
    for (std::string line; std::getline(file, line);) {
        if (line.starts_with('#')) continue;
        std::istringstream cells(line);
        std::vector<double> numbers;
        for (std::string cell; std::getline(cells, cell, ',');) numbers.push_back(std::stod(cell));
        ASSERT_EQ(numbers.size(), 31u) << line;
        const int triple = static_cast<int>(numbers[0]);
        std::vector<std::vector<Observation>> groups;
        for (int group = 0; group < 3; ++group)
            groups.push_back(observations_of(references::random_lot(3 * triple + group)));
        for (const Family family : {Family::lognormal, Family::weibull}) {
            const double* at = numbers.data() + (family == Family::lognormal ? 1 : 16);
            const auto compare = [&](const RegressionFit& fit, std::size_t slopes, const double* figures) {
                ASSERT_EQ(fit.outcome, FitOutcome::fitted) << "triple " << triple;
                const double scale = figures[2 * slopes];
                for (std::size_t i = 0; i < slopes; ++i) {
                    EXPECT_NEAR(fit.slopes[i], figures[i], 2e-6 * scale) << "triple " << triple;
                    EXPECT_NEAR(fit.standard_errors[i], figures[slopes + i], 2e-6 * figures[slopes + i])
                        << "triple " << triple;
                }
                EXPECT_NEAR(fit.scale, scale, 1e-6 * scale) << "triple " << triple;
                const double found = figures[2 * slopes + 1];
                EXPECT_NEAR(fit.log_likelihood, found, 1e-6 * (1 + std::abs(found))) << "triple " << triple;
            };
            const RegressionFit own = fit_regression(places_of(groups, true), family);
            const RegressionFit trend = fit_regression(places_of(groups, false), family);
            compare(own, 3, at);
            compare(trend, 2, at + 8);
            std::vector<Place> together = places_of(groups, false);
            for (Place& place : together) place.covariates = {1};
            const RegressionFit one = fit_regression(together, family);
            EXPECT_NEAR(one.log_likelihood, at[14], 1e-6 * (1 + std::abs(at[14])));
            ++compared;
        }
    }
    EXPECT_GT(compared, 390);
}

// NIST StRD, analysis of variance, SiRstv again, here by likelihood: the values stand for logarithms.
// F 1.18046237440255 certified; eight digits are left after a likelihood of logarithms near 196.
TEST(LikelihoodRatio, IsFishersWhereAllTimesAreKnown) {
    const std::vector<std::vector<double>> instruments{{196.3052, 196.1240, 196.1890, 196.2569, 196.3403},
                                                       {196.3042, 196.3825, 196.1669, 196.3257, 196.0422},
                                                       {196.1303, 196.2005, 196.2889, 196.0343, 196.1811},
                                                       {196.2795, 196.1748, 196.1494, 196.1485, 195.9885},
                                                       {196.2119, 196.1051, 196.1850, 196.0052, 196.2090}};
    std::vector<std::vector<Observation>> groups;
    for (const auto& instrument : instruments) {
        groups.emplace_back();
        for (const double value : instrument) groups.back().push_back(exactly(std::exp(value)));
    }
    std::vector<Place> together = places_of(groups, true);
    const RegressionFit own = fit_regression(together, Family::lognormal);
    for (Place& place : together) place.covariates = {1};
    const RegressionFit one = fit_regression(together, Family::lognormal);
    const LikelihoodRatio ratio = likelihood_ratio(own, one, 25);
    EXPECT_TRUE(agrees(ratio.f_ratio, "1.1804624"));
    EXPECT_EQ(ratio.numerator_df, 4);
    EXPECT_EQ(ratio.denominator_df, 20);
}

// NIST/SEMATECH e-Handbook 1.3.5.3, miles per gallon of American and Japanese cars: numbers, means and
// standard deviations as printed there (from memory, the arithmetic again in R 4.2.2 with the same inputs):
// T of unequal variances -12.94627, 136.8750 degrees of freedom.
TEST(Welch, AsInTheHandbook) {
    const GroupMean american{20.14458, 6.414700 * 6.414700 / 249, 248},
        japanese{30.48101, 6.107710 * 6.107710 / 79, 78};
    const Difference found = difference_of(american, japanese, 0.95);
    EXPECT_TRUE(agrees(found.difference / found.standard_error, "-12.9463"));
    EXPECT_TRUE(agrees(found.degrees_of_freedom, "136.875"));
}

// D. Lakens, Soc. Psychol. Personal. Sci. 8 (2017) 355, as in the examples of his package TOSTER
// (TOSTtwo.raw): means 5.25 and 5.22, standard deviations 0.95 and 0.83, 95 and 89 persons, alike within
// 0.384; t(182) = -2.69 with pooled variances, p = 0.004. The variances are so alike that Welch's t agrees to
// the digits printed but for the last.
TEST(Equivalence, AsInAWorkedExample) {
    const Difference found = difference_of({5.25, 0.95 * 0.95 / 95, 94}, {5.22, 0.83 * 0.83 / 89, 88}, 0.90);
    EXPECT_TRUE(agrees((found.difference - 0.384) / found.standard_error, "-2.69", 1));
    EXPECT_TRUE(agrees(equivalence_p(found, 0.384), "0.004"));
}

// NIST/SEMATECH e-Handbook 6.2.3.2, plan n 52, c 3: probability of acceptance from 1 % to 12 % over the
// limit. The figures are from memory, so that their last digit is not sure: R 4.2.2, pbinom(3, 52, c(0.04,
// 0.05)), has 0.8460 and 0.7383.
TEST(AttributesPlan, AcceptsAsOftenAsInTheHandbook) {
    constexpr std::array<std::string_view, 12> printed{"0.998", "0.980", "0.930", "0.845", "0.739", "0.620",
                                                       "0.502", "0.394", "0.300", "0.223", "0.162", "0.115"};
    for (std::size_t i = 0; i < printed.size(); ++i)
        EXPECT_TRUE(
            agrees(acceptance(AttributesPlan{52, 3}, 0.01 * static_cast<double>(i + 1)), printed[i], 1))
            << i + 1 << " %";
}

// Plans by variables, spread unknown, of MIL-STD-414 (1957), table B-1, and of ISO 3951, which took them
// over: letters, n, k for an acceptable quality of 1 % (from memory). The standards choose k so that a lot of
// just that quality is accepted with 0.88 for the smallest sample to 0.95 for the larger ones (from memory of
// their operating characteristics), and it is the consumer who is safer with more specimens.
TEST(VariablesPlan, AcceptsLotsOfTheStandardsQualityAsTheStandardsMean) {
    struct Row {
        int n;
        double k;
    };
    constexpr std::array rows{Row{4, 1.45},  Row{5, 1.53},  Row{7, 1.62},  Row{10, 1.72},
                              Row{15, 1.79}, Row{20, 1.82}, Row{25, 1.85}, Row{35, 1.89}};
    double before = 1;
    for (const Row& row : rows) {
        const VariablesPlan plan{row.n, row.k};
        EXPECT_GT(acceptance(plan, 0.01), 0.86) << row.n;
        EXPECT_LT(acceptance(plan, 0.01), 0.97) << row.n;
        EXPECT_LT(acceptance(plan, 0.10), before) << row.n;
        before = acceptance(plan, 0.10);
    }
}

// D. C. Montgomery, Introduction to Statistical Quality Control, plans by variables from a nomograph: 1 %
// accepted with 0.95, 6 % with 0.10, spread unknown: n 40, k 1.9 (from memory). A nomograph is read to about
// a tenth of n.
TEST(VariablesPlan, IsTheOneOfATextbooksNomograph) {
    const auto plan = variables_plan({0.01, 0.95, 0.06, 0.10});
    ASSERT_TRUE(plan);
    EXPECT_NEAR(plan->n, 40, 4);
    EXPECT_NEAR(plan->k, 1.9, 0.05);
}

}  // namespace
}  // namespace ebbtide::stats
