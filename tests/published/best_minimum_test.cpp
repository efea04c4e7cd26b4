// Is the lowest valley found? Against SciPy and Ceres from 50 starts each (recorded in references/ with
// scripts and versions), and against our own descent from 50 random starts. The traces and their seeds are
// stated in references/random_decay.hpp.

#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <fstream>
#include <limits>
#include <map>
#include <numeric>
#include <sstream>

#include "basis/number_text.hpp"
#include "decay/law.hpp"
#include "fit/fit.hpp"
#include "published/references/random_decay.hpp"

namespace ebbtide {
namespace {

using references::RandomDecay;

const fit::Spread own{fit::Scatter::from_residuals};

fit::Law law_of(const RandomDecay& decay) {
    return decay::law_of(*decay::law_kind_of(references::laws.at(decay.law)),
                         {decay.offset ? decay::Offset::Kind::free : decay::Offset::Kind::stated});
}

/// Where time constants meet or run away the sum of squares only tends to its lowest value, between terms of
/// opposite sign that grow without end; how near doubles come to it is a matter of rounding.
bool has_minimum(const fit::Fit& found) {
    return found.told_apart && std::ranges::all_of(found.parameters, [](const fit::Parameter& p) {
               return p.standing == fit::Standing::free;
           });
}

/// Lowest recorded sum of squares by law and trial; the numbers of samples and the sums of y show that the
/// tools fitted the same traces.
using Lowest = std::map<std::pair<std::size_t, int>, double>;
void read(const std::string& name, Lowest& lowest) {
    std::ifstream file(std::string(EBBTIDE_SOURCE_DIR) + "/tests/published/references/" + name);
    for (std::string line; std::getline(file, line);) {
        if (line.starts_with("#")) continue;
        std::vector<std::string> cells;
        std::istringstream rest(line);
        for (std::string cell; std::getline(rest, cell, ',');) cells.push_back(cell);
        const auto law = static_cast<std::size_t>(std::ranges::find(references::laws, cells.at(0)) -
                                                  references::laws.begin());
        const int trial = std::stoi(cells.at(1));
        const RandomDecay decay = references::random_decay(law, trial);
        const std::size_t last = cells.size() - 1;
        ASSERT_EQ(std::to_string(decay.x.size()), cells.at(last - 2)) << line;
        const double total = std::accumulate(decay.y.begin(), decay.y.end(), 0.0);
        ASSERT_NEAR(total, *parse_number(cells[last - 1]), 1e-9) << "not the same trace: " << line;
        const double rss = *parse_number(cells[last]);
        const auto [at, fresh] = lowest.try_emplace({law, trial}, rss);
        if (!fresh) at->second = std::min(at->second, rss);
    }
}

TEST(BestMinimum, IsNoWorseThanScipysAndCeresFromFiftyStartsEach) {
    Lowest lowest;
    read("law_fits.csv", lowest);
    ASSERT_EQ(lowest.size(), references::laws.size() * references::all_trials);
    read("law_fits_ceres.csv", lowest);
    ASSERT_EQ(lowest.size(), references::laws.size() * references::all_trials);
    for (const auto& [key, best] : lowest) {
        const RandomDecay decay = references::random_decay(key.first, key.second);
        const fit::Fit found = fit::fit(law_of(decay), {decay.x, decay.y, {}}, own);
        EXPECT_LE(found.rss, best * (1 + 1e-6)) << references::laws[key.first] << " " << key.second;
    }
}

TEST(BestMinimum, IsNoWorseThanOurOwnFromFiftyRandomStarts) {
    for (std::size_t position = 0; position < references::laws.size(); ++position)
        for (int trial = 0; trial < references::short_trials; ++trial) {
            const RandomDecay decay = references::random_decay(position, trial);
            const fit::Curve curve{decay.x, decay.y, {}};
            const fit::Law law = law_of(decay);
            const fit::Fit found = fit::fit(law, curve, own);
            EXPECT_NE(found.outcome, fit::Outcome::singular) << law.name << " " << trial;
            for (const fit::Parameter& p : found.parameters)
                EXPECT_TRUE(std::isfinite(p.value)) << law.name << " " << trial << " " << p.name;
            references::Numbers numbers(references::seed_base + 777 + static_cast<std::uint64_t>(trial));
            double best = std::numeric_limits<double>::infinity();
            for (int start = 0; start < 50; ++start) {
                std::vector<double> theta;
                for (const fit::ShapeParameter& p : law.shape)
                    theta.push_back(p.scales_with_x ? numbers.between(1e-3, 10) : numbers.between(0.2, 3));
                const fit::Fit other = fit::fit_from(law, curve, own, theta);
                if (other.outcome != fit::Outcome::singular) best = std::min(best, other.rss);
            }
            EXPECT_LE(found.rss, best * (1 + (has_minimum(found) ? 1e-6 : 1e-4))) << law.name << " " << trial;
        }
}

}  // namespace
}  // namespace ebbtide
