// Fits of decay laws, from samples to parameters and sum of squares. Ours finds its own start; the peers are
// given one near the truth.

#include <fmt/core.h>
#include <algorithm>
#include <cmath>
#include <fstream>
#include <memory>
#include <random>
#include <stdexcept>

#include "decay/law.hpp"
#include "fit/fit.hpp"
#include "fit/solve.hpp"
#include "lanes/decay_sums.hpp"
#include "lanes/even_spacing.hpp"
#include "lanes/mean_tiers.hpp"
#include "lanes/stretched_sums.hpp"
#include "peer.hpp"
#include "row.hpp"

namespace ebbtide::speed {
namespace {

using decay::LawKind;
constexpr double interval_s = 1e-3;
constexpr double start_off_by = 1.3;  // the peers' starts: every true parameter times this
constexpr double same = 1e-8;         // of the lowest sum of squares: found

struct Fall {
    std::vector<double> peer_start;  // logarithms of shape parameters, amplitudes, offset
    std::vector<double> voltage_V;
};

struct Falls {
    LawKind kind{};
    fit::Law law;
    std::vector<double> time_s;
    std::vector<Fall> falls;
    std::string path;  // for the peers

    [[nodiscard]] fit::Curve curve(std::size_t i) const { return {time_s, falls[i].voltage_V, {}}; }
};

/// Some 5 kV that fall under the law with its shape parameters, drawn by `shape`, and amplitudes; noise as a
/// fraction of the sum of these.
template <class Draw>
Fall fall_of(const Falls& all, double noise, std::mt19937_64& random, Draw draw) {
    std::vector<double> theta, amplitudes;
    draw(random, theta, amplitudes);
    Fall out;
    out.voltage_V = fit::values_of(all.law, amplitudes, theta, all.time_s);
    std::normal_distribution<double> normal(0, noise * 5000);
    for (double& voltage : out.voltage_V) voltage += normal(random);
    for (const double shape : theta) out.peer_start.push_back(std::log(shape * start_off_by));
    for (const double amplitude : amplitudes) out.peer_start.push_back(amplitude * start_off_by);
    return out;
}

template <class Draw>
std::shared_ptr<const Falls> falls_of(LawKind kind, std::size_t count, std::size_t samples, double noise,
                                      const std::string& path, Draw draw) {
    const bool offset = kind == LawKind::two_exponentials;
    auto out = std::make_shared<Falls>();
    out->kind = kind;
    out->law = decay::law_of(kind, {offset ? decay::Offset::Kind::free : decay::Offset::Kind::stated});
    for (std::size_t i = 0; i < samples; ++i) out->time_s.push_back(static_cast<double>(i) * interval_s);
    std::mt19937_64 random(20261125);
    for (std::size_t i = 0; i < count; ++i) out->falls.push_back(fall_of(*out, noise, random, draw));
    out->path = path;
    std::ofstream file(path, std::ios::binary);
    for (const Fall& fall : out->falls)
        for (const auto* numbers : {&fall.peer_start, &fall.voltage_V})
            file.write(reinterpret_cast<const char*>(numbers->data()),
                       static_cast<std::streamsize>(numbers->size() * sizeof(double)));
    if (!file.flush()) throw std::runtime_error("cannot write " + path);
    return out;
}

/// Time constants `least` to `most` times apart over a record of 2,000 intervals or in proportion, shares of
/// the two terms 0.3 to 0.7, an offset of some 50 V.
auto two_terms(double least, double most, std::size_t samples = 2000) {
    return [=](std::mt19937_64& random, std::vector<double>& theta, std::vector<double>& amplitudes) {
        std::uniform_real_distribution<double> uniform(0, 1);
        const double record_s = static_cast<double>(samples) * interval_s;
        const double apart = least * std::pow(most / least, uniform(random));
        const double slow_s = record_s * (0.15 + 0.1 * uniform(random));
        theta = {slow_s / apart, slow_s};
        const double share = 0.3 + 0.4 * uniform(random);
        amplitudes = {5000 * share, 5000 * (1 - share), 50 * (1 + uniform(random))};
    };
}

void stretched_fall(std::mt19937_64& random, std::vector<double>& theta, std::vector<double>& amplitudes) {
    std::uniform_real_distribution<double> uniform(0, 1);
    theta = {0.1 + 0.3 * uniform(random), 0.5 + 0.4 * uniform(random)};
    amplitudes = {5000};
}

double our_rss(const Falls& falls, std::size_t i) {
    return fit::solve(falls.law, falls.curve(i)).rss;
}

/// All falls `times` times over; seconds for one fit.
Lap fit_all(const Falls& falls, int times) {
    Lap lap;
    lap.seconds = processor_seconds_of([&] {
                      for (int k = 0; k < times; ++k) {
                          lap.answer = 0;
                          for (std::size_t i = 0; i < falls.falls.size(); ++i)
                              lap.answer += our_rss(falls, i);
                      }
                  }) /
                  static_cast<double>(falls.falls.size()) / times;
    return lap;
}

struct Tool {
    std::string name;
    std::vector<std::string> command;
};
const Tool tiny_for_machine{"TinySolver, built for this CPU", {EBBTIDE_PEER_PROGRAMS "/peer_tiny_native"}};
const Tool tiny_packaged{"TinySolver, -O2", {EBBTIDE_PEER_PROGRAMS "/peer_tiny"}};
const Tool ceres{"Ceres as packaged", {EBBTIDE_PEER_PROGRAMS "/peer_ceres"}};
const Tool scipy{"SciPy leastsq with slopes", {"/usr/bin/python3", EBBTIDE_PEERS "/fits.py"}};
const Tool gsl{"GSL", {EBBTIDE_PEER_PROGRAMS "/peer_gsl"}};

std::string sums_path(const Falls& falls, const Tool& tool) {
    return falls.path + "." + std::to_string(std::hash<std::string>()(tool.name));
}

Contender contender(const Falls& falls, const Tool& tool) {
    std::vector<std::string> command = tool.command;
    for (const std::string& word :
         {falls.law.name, falls.path, std::to_string(falls.time_s.size()), sums_path(falls, tool)})
        command.push_back(word);
    return peer(tool.name, command);
}

std::vector<double> sums_of(const Falls& falls, const Tool& tool) {
    std::vector<double> sums(falls.falls.size());
    std::ifstream file(sums_path(falls, tool), std::ios::binary);
    file.read(reinterpret_cast<char*>(sums.data()),
              static_cast<std::streamsize>(sums.size() * sizeof(double)));
    if (!file) throw std::runtime_error(tool.name + " left no sums of squares");
    return sums;
}

/// How many of the falls each contender brought to within `same` of the lowest sum of squares that any of
/// them reached, or that our own descent reaches from the truth.
std::vector<Finding> shares_of_success(const Falls& falls, const std::vector<Tool>& tools) {
    std::vector<std::pair<std::string, std::vector<double>>> reached{{"ours", {}}};
    std::vector<double> lowest;
    for (std::size_t i = 0; i < falls.falls.size(); ++i) {
        std::vector<double> truth;
        for (std::size_t k = 0; k < falls.law.shape.size(); ++k)
            truth.push_back(std::exp(falls.falls[i].peer_start[k]) / start_off_by);
        const fit::Fit near = fit::fit_from(falls.law, falls.curve(i), {fit::Scatter::from_residuals}, truth);
        reached[0].second.push_back(our_rss(falls, i));
        lowest.push_back(std::min(near.rss, reached[0].second.back()));
    }
    for (const Tool& tool : tools) reached.emplace_back(tool.name, sums_of(falls, tool));
    for (const auto& [name, sums] : reached)
        std::ranges::transform(lowest, sums, lowest.begin(),
                               [](double a, double b) { return std::isfinite(b) ? std::min(a, b) : a; });
    std::vector<Finding> out;
    for (const auto& [name, sums] : reached) {
        std::size_t found = 0;
        double worst = 0;
        for (std::size_t i = 0; i < sums.size(); ++i) {
            found += sums[i] <= lowest[i] * (1 + same);
            worst = std::max(worst, sums[i] / lowest[i] - 1);
        }
        const bool ours = &sums == &reached[0].second;
        out.push_back(
            {fmt::format("{}: {:.1f} % within 1e-8 of the lowest sum of squares, worst {:.1e} above it", name,
                         100.0 * static_cast<double>(found) / static_cast<double>(sums.size()), worst),
             ours ? std::optional<bool>(found == sums.size()) : std::nullopt});
    }
    return out;
}

/// What a fit of even samples is made of, each on its own.
Finding phases(const Falls& falls) {
    constexpr int times = 20;
    const auto us = [&](auto work) {
        double best = std::numeric_limits<double>::infinity();
        for (int round = 0; round < 5; ++round)
            best = std::min(best, processor_seconds_of([&] {
                                for (int k = 0; k < times; ++k)
                                    for (const Fall& fall : falls.falls) keep(work(fall.voltage_V));
                            }));
        return best * 1e6 / times / static_cast<double>(falls.falls.size());
    };
    using Voltage = std::span<const double>;
    lanes::MeanTiers means;
    std::vector<double> log_t(falls.time_s.size());
    std::string words = fmt::format(
        "of ours: times found even {:.2f} us, means {:.2f}",
        us([&](Voltage) { return lanes::evenly_spaced(falls.time_s) ? 1.0 : 0.0; }), us([&](Voltage y) {
            lanes::take_means(y, 0, means);
            return means.sum;
        }));
    if (falls.kind == LawKind::two_exponentials) {
        const lanes::DecaySum sum{2, {-0.01, -0.002}, {2500, 2500}, 50};
        words += fmt::format(", a pass over all samples by moments {:.2f}, by residuals {:.2f}",
                             us([&](Voltage y) { return lanes::residual_moments(y, sum).plain; }),
                             us([&](Voltage y) { return lanes::residual_sums(y, sum).squares; }));
    } else {
        const lanes::StretchedSum sum{5, 0.7, 5000, 0};
        words += fmt::format(
            ", logarithms of time {:.2f}, a pass over all samples by residuals {:.2f}", us([&](Voltage) {
                lanes::log_times(0, log_t);
                return log_t[1];
            }),
            us([&](Voltage y) { return lanes::stretched_residuals(y, log_t, 0, sum).squares; }));
    }
    return {words + fmt::format("; all with starts and steps on the means {:.2f}",
                                1e6 * fit_all(falls, times).seconds)};
}

Row row_of(const std::shared_ptr<const Falls>& falls, const std::vector<Tool>& tools, int times) {
    Row row;
    row.amount = 1;
    row.unit = "fits";
    row.ours = {"own start", [falls, times] { return fit_all(*falls, times); }};
    for (const Tool& tool : tools) row.peers.push_back(contender(*falls, tool));
    row.answer_tolerance = same;
    row.findings = [falls, tools] {
        std::vector<Finding> out = shares_of_success(*falls, tools);
        out.push_back(phases(*falls));
        return out;
    };
    return row;
}

}  // namespace

Row two_exponentials_row(const std::string& folder) {
    const auto falls =
        falls_of(LawKind::two_exponentials, 50, 2000, 0.005, folder + "/falls.f64", two_terms(3, 6));
    Row row = row_of(falls, {tiny_for_machine, tiny_packaged, ceres, scipy, gsl}, 10);
    row.id = "two_exponentials";
    row.work = "fit of two exponentials and an offset, one core; peers start at 1.3 times the truth";
    row.size = "2,000 samples, noise 0.5 %, time constants 3 to 6 apart; mean of 50 falls";
    row.goals = {{"at most 1/40 of TinySolver for this CPU", tiny_for_machine.name, 40},
                 {"at most 1/100 of Ceres as packaged", ceres.name, 100},
                 {"at most 1/150 of SciPy", scipy.name, 150}};
    row.limit = "starts and steps on the means; from some 20,000 samples on, reading them";
    for (const std::size_t size : {200u, 2000u, 20'000u, 200'000u}) {
        const auto one = falls_of(LawKind::two_exponentials, 1, size, 0.005,
                                  fmt::format("{}/fall-{}.f64", folder, size), two_terms(3, 6, size));
        row.growth.push_back(
            {static_cast<double>(size), [one, size] { return fit_all(*one, size > 2000 ? 10 : 100); }});
    }
    row.growth_unit = "samples";
    return row;
}

Row hard_set_row(const std::string& folder) {
    const std::vector<Tool> tools{tiny_for_machine, ceres, scipy, gsl};
    const auto falls =
        falls_of(LawKind::two_exponentials, 1000, 2000, 0.01, folder + "/hard.f64", two_terms(1.5, 3));
    Row row = row_of(falls, tools, 1);
    row.id = "hard_set";
    row.work = "the same fit where time constants lie close; who finds the lowest sum of squares?";
    row.size = "1,000 falls of 2,000 samples, noise 1 %, time constants 1.5 to 3 apart";
    row.answer_tolerance = std::numeric_limits<double>::infinity();  // who misses is the finding
    row.limit = "the same, and falls whose terms can hardly be told apart";
    return row;
}

Row stretched_row(const std::string& folder) {
    const auto falls =
        falls_of(LawKind::stretched, 50, 2000, 0.005, folder + "/stretched.f64", stretched_fall);
    Row row = row_of(falls, {tiny_for_machine, tiny_packaged, ceres, scipy, gsl}, 10);
    row.id = "stretched";
    row.work = "fit of a stretched exponential, one core; peers start at 1.3 times the truth";
    row.size = "2,000 samples, noise 0.5 %, exponent 0.5 to 0.9; mean of 50 falls";
    row.goals = {{"at most 1/8 of TinySolver for this CPU", tiny_for_machine.name, 8}};
    row.limit = "two exponentials for each sample in each pass over all of them";
    for (const std::size_t size : {200u, 2000u, 20'000u, 200'000u}) {
        const auto one = falls_of(LawKind::stretched, 1, size, 0.005,
                                  fmt::format("{}/stretched-{}.f64", folder, size), stretched_fall);
        row.growth.push_back(
            {static_cast<double>(size), [one, size] { return fit_all(*one, size > 2000 ? 2 : 20); }});
    }
    row.growth_unit = "samples";
    return row;
}

}  // namespace ebbtide::speed
