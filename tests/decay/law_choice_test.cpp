#include "decay/law_choice.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <random>

namespace ebbtide::decay {
namespace {

fit::CurveStore curve_of(const std::function<double(double)>& fall, double noise_V, std::uint64_t seed,
                         double correlation_s = 0) {
    std::mt19937_64 random(seed);
    std::normal_distribution<double> normal;
    fit::CurveStore out;
    const double step_s = 0.005, keep = correlation_s > 0 ? std::exp(-step_s / correlation_s) : 0;
    double noise = normal(random);
    for (int i = 0; i < 1500; ++i) {
        out.x.push_back(step_s * i);
        out.y.push_back(fall(out.x.back()) + noise_V * noise);
        noise = keep * noise + std::sqrt(1 - keep * keep) * normal(random);
    }
    return out;
}

LawChoice choice_of(const fit::CurveStore& curve, const std::vector<LawKind>& kinds = law_kinds_under({})) {
    return choose_law(curve.view(), kinds, {}, fit::Scatter::correlated_residuals);
}

double exponential(double t) {
    return 1000 * std::exp(-t / 1.3);
}
double two_exponentials(double t) {
    return 500 * std::exp(-t / 0.3) + 500 * std::exp(-t / 2.2);
}
double stretched(double t) {
    return 1000 * std::exp(-std::pow(t / 0.8, 0.5));
}
double power(double t) {
    return 1000 / (1 + t / 0.7);
}

TEST(ChoiceOfLaw, FindsTheLawThatTheCurveFollows) {
    const auto chosen = [](double (*fall)(double), std::uint64_t seed) {
        const LawChoice choice = choice_of(curve_of(fall, 3, seed));
        return choice.chosen ? std::string(name_of(choice.models[*choice.chosen].kind)) : "none";
    };
    for (const std::uint64_t seed : {1, 2, 3}) {
        EXPECT_EQ(chosen(two_exponentials, seed), "two_exponentials");
        EXPECT_EQ(chosen(stretched, seed), "stretched");
        EXPECT_EQ(chosen(power, seed), "power");
    }
}

TEST(ChoiceOfLaw, DoesNotCallAdequateWhatLeavesAWave) {
    // An exponential laid through second order, and through two exponentials.
    for (double (*fall)(double) : {power, two_exponentials}) {
        const LawChoice choice = choice_of(curve_of(fall, 3, 1), {LawKind::exponential});
        ASSERT_TRUE(choice.adequate.has_value());
        EXPECT_FALSE(*choice.adequate);
    }
}

TEST(ChoiceOfLaw, CallsTheRightLawAdequateAlsoUnderBandLimitedNoise) {
    // One wrong alarm in a thousand is due: of 100 traces more than two have a chance of 0.0002.
    for (const double correlation_s : {0.0, 0.03}) {
        int alarms = 0;
        for (std::uint64_t seed = 0; seed < 100; ++seed) {
            const LawChoice choice =
                choice_of(curve_of(exponential, 10, 20261127 + seed, correlation_s), {LawKind::exponential});
            ASSERT_TRUE(choice.adequate.has_value());
            alarms += !*choice.adequate;
        }
        EXPECT_LE(alarms, 2) << correlation_s;
    }
}

TEST(ChoiceOfLaw, TakesNoLawWhosePartsAreNotDetermined) {
    const LawChoice choice = choice_of(curve_of(exponential, 10, 1));
    ASSERT_TRUE(choice.chosen.has_value());
    for (const fit::Parameter& p : choice.models[*choice.chosen].fit.parameters)
        EXPECT_EQ(p.standing, fit::Standing::free) << p.name;
    for (const LawModel& model : choice.models)
        EXPECT_TRUE(model.aicc.has_value() || model.kind != LawKind::exponential);
}

TEST(ChoiceOfLaw, WeighsAllModelsThatConverged) {
    const LawChoice choice = choice_of(curve_of(stretched, 10, 1));
    ASSERT_TRUE(choice.chosen.has_value());
    double sum = 0;
    for (const LawModel& model : choice.models) {
        sum += model.weight;
        EXPECT_TRUE(model.weight >= 0 && (model.fit.ok() || model.weight == 0));
        if (!model.aicc) continue;
        // Burnham and Anderson 2002, 2.9: exp(-difference / 2)
        EXPECT_NEAR(model.weight / choice.models[*choice.chosen].weight,
                    std::exp(-(*model.aicc - *choice.models[*choice.chosen].aicc) / 2), 1e-9);
    }
    EXPECT_NEAR(sum, 1, 1e-12);
}

TEST(ChoiceOfLaw, LeavesSpikesOutOfAllModelsAlike) {
    fit::CurveStore curve = curve_of(stretched, 3, 4);
    const LawChoice clean = choice_of(curve);
    std::vector<std::size_t> hit;
    for (std::size_t i = 20; i < curve.y.size(); i += 50) {
        curve.y[i] += 100;
        hit.push_back(i);
    }
    const LawChoice robust =
        choose_law(curve.view(), law_kinds_under({}), {}, fit::Scatter::correlated_residuals, {}, true);
    EXPECT_EQ(robust.lost, hit);
    ASSERT_TRUE(robust.chosen.has_value());
    EXPECT_EQ(robust.models[*robust.chosen].kind, LawKind::stretched);
    EXPECT_EQ(robust.adequate, true) << robust.doubt;
    EXPECT_NEAR(robust.effective_samples, clean.effective_samples, 0.2 * clean.effective_samples);
    for (const LawModel& model : robust.models) EXPECT_EQ(model.fit.points, curve.y.size() - hit.size());
}

TEST(ChoiceOfLaw, HonoursASigmaOfEachPoint) {
    // The second half is ten times as noisy. Weighed by sigma the time constant is known better, and the
    // criterion still finds the law.
    fit::CurveStore curve = curve_of(stretched, 0, 1);
    std::mt19937_64 random(6);
    std::normal_distribution<double> normal;
    for (std::size_t i = 0; i < curve.y.size(); ++i) {
        curve.sigma.push_back(i < 750 ? 2 : 20);
        curve.y[i] += curve.sigma[i] * normal(random);
    }
    const auto error_of = [](const LawChoice& choice) {
        return *choice.models.front().fit.find("time_constant_s")->standard_error;
    };
    const std::vector<LawKind> kinds{LawKind::stretched, LawKind::power};
    const LawChoice weighed = choose_law(curve.view(), kinds, {}, fit::Scatter::stated);
    const LawChoice alike = choose_law({curve.x, curve.y, {}}, kinds, {}, fit::Scatter::from_residuals);
    EXPECT_EQ(weighed.chosen, std::optional<std::size_t>(0));
    EXPECT_EQ(weighed.adequate, true) << weighed.doubt;
    EXPECT_NEAR(weighed.effective_samples, 1500, 300);
    EXPECT_LT(error_of(weighed), 0.5 * error_of(alike));
}

TEST(ChoiceOfLaw, OfTooFewSamplesIsNone) {
    const fit::CurveStore few{{0, 1}, {2, 1}, {}};
    const LawChoice choice = choice_of(few);
    EXPECT_FALSE(choice.chosen.has_value());
    EXPECT_FALSE(choice.adequate.has_value());
}

}  // namespace
}  // namespace ebbtide::decay
