// Uncertainty by drawing: the decay time of a check standard from ten uncertain inputs, with the ends of its
// 95 % interval.

#include <fmt/core.h>
#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <random>

#include "lanes/exp_log.hpp"
#include "lanes/random.hpp"
#include "peer.hpp"
#include "row.hpp"
#include "stats/monte_carlo.hpp"

namespace ebbtide::speed {
namespace {

// t = R (1 + 5000 kV) (1 + kT dT) (C + Cs + Cc) ln(V0 / (500 + z)) + t0, all inputs normal; the same lines
// stand in peers/monte_carlo.py.
struct Input {
    double value, u;
};
constexpr std::array<Input, 10> inputs{{{1e10, 5e7},     // R, ohm
                                        {-2e-6, 5e-7},   // kV, 1/V
                                        {1e-4, 3e-5},    // kT, 1/K
                                        {0, 1},          // dT, K
                                        {1e-10, 5e-13},  // C, F
                                        {2e-12, 5e-13},  // Cs, F
                                        {1e-12, 3e-13},  // Cc, F
                                        {5000, 25},      // V0, V
                                        {0, 5},          // z, V
                                        {0, 2e-3}}};     // t0, s
constexpr double level_V = 500;
constexpr std::size_t trials = 1'000'000;
constexpr std::size_t chunk = 256;  // ten inputs of so many trials stay in the nearest cache
using Draws = std::array<std::array<double, chunk>, inputs.size()>;

void draw(std::uint64_t first, std::size_t count, Draws& draws) {
    for (std::size_t k = 0; k < inputs.size(); ++k)
        lanes::draw_normal({20261125, k}, first, inputs[k].value, inputs[k].u,
                           std::span(draws[k]).first(count));
}

using Chunk = std::array<double, chunk>;

// Arithmetic for the vectors of this processor, as numpy has it. Always whole chunks: the compiler then needs
// no loop for what is left over.
[[gnu::target_clones("default", "avx2", "avx512f")]] void folds_of(const Draws& draws,
                                                                   Chunk& __restrict out) {
    const auto& V0 = draws[7];
    const auto& z = draws[8];
    for (std::size_t i = 0; i < chunk; ++i) out[i] = V0[i] / (level_V + z[i]);
}
[[gnu::target_clones("default", "avx2", "avx512f")]] void decay_times(const Draws& draws,
                                                                      Chunk& __restrict folds) {
    const auto& [R, kV, kT, dT, C, Cs, Cc, V0, z, t0] = draws;
    for (std::size_t i = 0; i < chunk; ++i)
        folds[i] =
            R[i] * (1 + 5000 * kV[i]) * (1 + kT[i] * dT[i]) * (C[i] + Cs[i] + Cc[i]) * folds[i] + t0[i];
}

void model(std::uint64_t first, std::span<double> values) {
    Draws draws;
    Chunk chunk_of;
    for (std::size_t at = 0; at < values.size(); at += chunk) {
        const std::size_t count = std::min(chunk, values.size() - at);
        draw(first + at, count, draws);
        // Behind a short chunk must lie ordinary numbers.
        for (auto& input : draws) std::fill(input.begin() + count, input.end(), 1.0);
        folds_of(draws, chunk_of);
        lanes::log_all(chunk_of, chunk_of);
        decay_times(draws, chunk_of);
        std::copy_n(chunk_of.begin(), count, values.begin() + static_cast<std::ptrdiff_t>(at));
    }
}

Lap ours(std::size_t count, unsigned threads) {
    stats::MonteCarloOptions options;
    options.least_trials = options.most_trials = count;
    options.threads = threads;
    Lap lap;
    const auto clock = threads == 1 ? processor_seconds_of : seconds_of;
    lap.seconds = clock([&] {
        const stats::MonteCarloResult found = stats::monte_carlo(model, options);
        lap.answer = found.symmetric.high - found.symmetric.low;
    });
    return lap;
}

Lap standard_library() {
    Lap lap;
    lap.seconds = processor_seconds_of([&] {
        std::mt19937_64 random(1);
        std::normal_distribution<double> normal;
        std::vector<double> values(trials);
        for (double& value : values) {
            std::array<double, inputs.size()> x;
            for (std::size_t k = 0; k < x.size(); ++k) x[k] = inputs[k].value + inputs[k].u * normal(random);
            const auto [R, kV, kT, dT, C, Cs, Cc, V0, z, t0] = x;
            value = R * (1 + 5000 * kV) * (1 + kT * dT) * (C + Cs + Cc) * std::log(V0 / (level_V + z)) + t0;
        }
        const auto low = values.begin() + trials / 40, high = values.end() - trials / 40;
        std::nth_element(values.begin(), low, values.end());
        std::nth_element(low + 1, high, values.end());
        lap.answer = *high - *low;
    });
    return lap;
}

std::vector<Finding> phases() {
    Draws draws;
    std::array<double, chunk> values;
    std::array<double, 3> ns;  // draws; draws and model; all
    std::ranges::fill(ns, std::numeric_limits<double>::infinity());
    for (int round = 0; round < 5; ++round) {
        const auto each = [&](auto work) {
            return processor_seconds_of([&] {
                for (std::size_t first = 0; first < trials; first += chunk) work(first);
            });
        };
        const std::array<double, 3> seconds{each([&](std::size_t first) {
                                                draw(first, chunk, draws);
                                                keep(draws[0][0]);
                                            }),
                                            each([&](std::size_t first) {
                                                model(first, values);
                                                keep(values[0]);
                                            }),
                                            ours(trials, 1).seconds};
        for (std::size_t i = 0; i < ns.size(); ++i) ns[i] = std::min(ns[i], seconds[i] * 1e9 / trials);
    }
    return {{fmt::format(
        "of ours, ns a trial: draws {:.1f}, model {:.1f}, moments and ends of the interval {:.1f}", ns[0],
        ns[1] - ns[0], ns[2] - ns[1])}};
}

}  // namespace

Row monte_carlo_row(const std::string& /*folder*/) {
    Row row;
    row.id = "monte_carlo";
    row.work = "decay time of a check standard from ten normal inputs by drawing, with its 95 % interval";
    row.size = "1,000,000 trials";
    row.amount = trials;
    row.unit = "trials";
    const std::string on_two = "ours, two threads", numpy = "numpy, blocks in the cache";
    row.ours = {"ours, one thread", [] { return ours(trials, 1); }};
    row.ours_too = {{on_two, [] { return ours(trials, 2); }}};
    row.peers = {peer(numpy, {"/usr/bin/python3", EBBTIDE_PEERS "/monte_carlo.py"}),
                 {"C++ standard library", standard_library}};
    row.goals = {{"at most 1/8 of numpy on one core", numpy, 8},
                 {"at most 1/14 of numpy on two cores", numpy, 14, on_two}};
    // An end of the interval of so many trials scatters by 0.3 % of u.
    row.answer_tolerance = 0.01;
    row.limit = "drawing ten normal numbers a trial";
    row.findings = phases;
    for (const std::size_t count : {10'000u, 100'000u, 1'000'000u, 10'000'000u})
        row.growth.push_back({static_cast<double>(count), [count] { return ours(count, 1); }});
    return row;
}

}  // namespace ebbtide::speed
