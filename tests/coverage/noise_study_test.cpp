// Does the stated uncertainty of t(10 %) hold? A seeded study, everything fixed before it runs:
//   truth      V0 exp(-t/T), T = 1 s, so t(10 %) = ln 10 s; zero and hold 0.5 T each, record 5 T after the
//   release noise      white, or band-limited with a correlation time of 0.05 T; 0.1, 1 and 5 % of V0 samples
//   200 to 100,000 over the whole record, the grid shifted against the release from trial to trial N, seeds
//   1,000 trials a setting, seeds 20,261,124 + trial (4,000 with EBBTIDE_LONG, and every size)
// Held to: mean error under 0.2 of the stated uncertainty; 921 to 975 of 1,000 intervals at 95 % cover the
// truth (93 to 97 % of 4,000); median width at most 1.25 times that of an oracle who knows how the estimates
// scatter, 2 * 1.96 standard deviations of the errors. A setting in which more than one trace in a hundred
// gives no figure is named, and every such trace must say too_noisy.

#include <gtest/gtest.h>

#include <algorithm>
#include <atomic>
#include <boost/math/distributions/students_t.hpp>
#include <cmath>
#include <cstdlib>
#include <iostream>
#include <mutex>
#include <thread>

#include "support/simulated_run.hpp"

namespace ebbtide {
namespace {

using decay::LevelStatus;

struct Setting {
    std::size_t samples;
    double noise;        // of V0
    double correlation;  // of T
};

std::ostream& operator<<(std::ostream& out, const Setting& s) {
    return out << s.samples << " samples, noise " << s.noise << ", correlation " << s.correlation;
}

struct Outcome {
    double error_s, u_s, expanded_s;
};

struct Study {
    std::vector<Outcome> measured;
    int too_noisy = 0, otherwise = 0;
    std::string other_status;
};

bool long_run() {
    return std::getenv("EBBTIDE_LONG") != nullptr;
}

decay::LevelFigure one_trial(const Setting& setting, int trial) {
    testing_support::RunPlan plan;
    plan.samples = setting.samples;
    plan.noise_V = setting.noise;
    plan.correlation_s = setting.correlation;
    plan.skew_s = (trial % 97) / 97.0;
    const auto store = testing_support::simulate(plan, 20'261'124u + static_cast<unsigned>(trial));
    const auto runs = testing_support::cut(store);
    if (runs.size() != 1) return {};
    plan::DecayRules rules;
    rules.levels = {*plan::parse_level("0.1")};
    return decay::figures_of(runs.front(), rules, {}).levels.front();
}

Study study_of(const Setting& setting, int trials) {
    Study study;
    std::mutex guard;
    std::atomic<int> next = 0;
    const auto work = [&] {
        for (int trial = next++; trial < trials; trial = next++) {
            const decay::LevelFigure figure = one_trial(setting, trial);
            const std::lock_guard lock(guard);
            if (figure.status == LevelStatus::measured) {
                const double k =
                    figure.degrees_of_freedom
                        ? boost::math::quantile(boost::math::students_t(*figure.degrees_of_freedom), 0.975)
                        : 1.96;
                study.measured.push_back(
                    {*figure.decay_s - std::log(10.0), *figure.u_decay_s, k * *figure.u_decay_s});
            } else if (figure.status == LevelStatus::too_noisy) {
                ++study.too_noisy;
            } else {
                ++study.otherwise;
                study.other_status = std::string(decay::name_of(figure.status)) + ": " + figure.reason;
            }
        }
    };
    std::vector<std::thread> workers;
    for (unsigned i = 0; i < std::max(1u, std::thread::hardware_concurrency()); ++i)
        workers.emplace_back(work);
    for (std::thread& worker : workers) worker.join();
    return study;
}

class NoiseStudy : public ::testing::TestWithParam<Setting> {};

TEST_P(NoiseStudy, StatedUncertaintyOfTheDecayTimeHolds) {
    const Setting setting = GetParam();
    const int trials = long_run() ? 4000 : 1000;
    Study study = study_of(setting, trials);

    const int missing = trials - static_cast<int>(study.measured.size());
    if (missing * 100 > trials) {
        std::cout << "  " << setting << ": " << missing << " of " << trials << " too noisy for a figure\n";
        EXPECT_EQ(study.otherwise, 0) << study.other_status;
        return;
    }
    double mean = 0, squares = 0;
    int covered = 0;
    std::vector<double> u, width;
    for (const Outcome& o : study.measured) {
        mean += o.error_s / static_cast<double>(study.measured.size());
        covered += std::abs(o.error_s) <= o.expanded_s;
        u.push_back(o.u_s);
        width.push_back(2 * o.expanded_s);
    }
    for (const Outcome& o : study.measured) squares += (o.error_s - mean) * (o.error_s - mean);
    const double scatter = std::sqrt(squares / static_cast<double>(study.measured.size() - 1));
    const auto median = [](std::vector<double>& values) {
        std::ranges::nth_element(values, values.begin() + static_cast<std::ptrdiff_t>(values.size() / 2));
        return values[values.size() / 2];
    };
    const double covered_share = covered / static_cast<double>(study.measured.size());
    const double bias_in_u = mean / median(u), width_ratio = median(width) / (2 * 1.96 * scatter);
    std::cout << "  " << setting << ": covered " << covered << " of " << study.measured.size() << ", bias "
              << bias_in_u << " u, width " << width_ratio << " of the oracle's, u " << median(u) << " s\n";
    EXPECT_LT(std::abs(bias_in_u), 0.2);
    EXPECT_GE(covered_share, long_run() ? 0.93 : 0.921);
    EXPECT_LE(covered_share, long_run() ? 0.97 : 0.975);
    EXPECT_LE(width_ratio, 1.25);
}

std::vector<Setting> settings() {
    std::vector<Setting> all;
    for (const double correlation : {0.0, 0.05})
        for (const double noise : {0.001, 0.01, 0.05})
            for (const std::size_t samples : {200u, 1000u, 10000u})
                all.push_back({samples, noise, correlation});
    // The largest size takes a second a hundred trials: two settings of it here, the others in the long run.
    for (const double correlation : {0.0, 0.05})
        for (const double noise : {0.001, 0.01, 0.05})
            if (noise == 0.01 || long_run()) all.push_back({100000, noise, correlation});
    return all;
}

INSTANTIATE_TEST_SUITE_P(Exponential, NoiseStudy, ::testing::ValuesIn(settings()));

}  // namespace
}  // namespace ebbtide
