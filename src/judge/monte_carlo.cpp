#include "judge/monte_carlo.hpp"

#include <fmt/format.h>

#include <cstring>
#include <utility>

#include "basis/number_text.hpp"
#include "basis/sha256.hpp"
#include "judge/uncertainty_of.hpp"

namespace ebbtide::judge {
namespace {

std::uint64_t seed_of(const std::string& run_id, const plan::Level& level) {
    Sha256 hash;
    hash.add(run_id);
    hash.add(level.kind == plan::Level::Kind::fraction ? "fraction" : "volts");
    hash.add(std::span<const double>(&level.value, 1));
    const auto digest = hash.digest();
    std::uint64_t seed = 0;
    std::memcpy(&seed, digest.data(), sizeof seed);
    return seed;
}

std::string message_of(const decay::LevelFigure& figure, double expanded_u_s) {
    const decay::MonteCarloTime& drawn = *figure.monte_carlo;
    return fmt::format("t({}): by slopes {} to {} s, by Monte Carlo {} to {} s.", figure.level.label(),
                       significant_text(*figure.decay_s - expanded_u_s, 3),
                       significant_text(*figure.decay_s + expanded_u_s, 3), significant_text(drawn.low_s, 3),
                       significant_text(drawn.high_s, 3));
}

}  // namespace

void add_monte_carlo(decay::Figures& figures, const std::string& run_id) {
    for (decay::LevelFigure& figure : figures.levels) {
        if (figure.status != decay::LevelStatus::measured || !figure.decay_s || figure.budget.empty())
            continue;
        const double expanded_u_s = sum_of(figure.budget).expanded_u_s;
        figure.monte_carlo = decay::monte_carlo_time(*figure.decay_s, expanded_u_s, figure.budget,
                                                     figure.local_fall, seed_of(run_id, figure.level));
        if (!figure.monte_carlo->agrees)
            figures.flags.emplace_back(plan::FlagCode::first_order_unfit, message_of(figure, expanded_u_s));
    }
}

std::vector<JudgedRun> with_monte_carlo(std::vector<JudgedRun> runs) {
    for (JudgedRun& run : runs) {
        if (!run.figures || run.without_specimen) continue;
        const std::size_t before = run.figures->flags.size();
        add_monte_carlo(*run.figures, run.run_id);
        run.flags.insert(run.flags.end(), run.figures->flags.begin() + static_cast<std::ptrdiff_t>(before),
                         run.figures->flags.end());
    }
    return runs;
}

}  // namespace ebbtide::judge
