// Statistics of a lot of twelve specimens, some of which did not reach the level: the lognormal law by
// maximum likelihood with its standard errors, and the share that takes longer with its bounds.

#include <fmt/core.h>
#include <cmath>
#include <fstream>
#include <memory>
#include <random>
#include <vector>

#include "peer.hpp"
#include "row.hpp"
#include "stats/censored_fit.hpp"
#include "stats/kaplan_meier.hpp"

namespace ebbtide::speed {
namespace {

using Lots = std::vector<std::vector<stats::Observation>>;

std::shared_ptr<const Lots> lots_of(std::size_t count, std::size_t specimens) {
    auto lots = std::make_shared<Lots>();
    std::mt19937_64 random(20261126);
    std::normal_distribution<double> normal;
    for (std::size_t i = 0; i < count; ++i) {
        lots->emplace_back();
        for (std::size_t k = 0; k < specimens; ++k) {
            const double time = 0.4 * std::exp(0.4 * normal(random));
            lots->back().push_back(time > 0.5 ? stats::at_least(0.5) : stats::exactly(time));
        }
    }
    return lots;
}

void write(const Lots& lots, const std::string& path) {
    std::ofstream out(path);
    for (std::size_t i = 0; i < lots.size(); ++i)
        for (const stats::Observation& one : lots[i])
            out << fmt::format("{} {:.17g} {}\n", i, one.value, one.known == stats::Known::exactly ? 1 : 0);
}

template <class Work>
Lap over(const Lots& lots, std::size_t times, Work work) {
    Lap lap;
    lap.seconds = processor_seconds_of([&] {
                      for (std::size_t k = 0; k < times; ++k) {
                          lap.answer = 0;
                          for (const auto& lot : lots) lap.answer += work(lot);
                          keep(lap.answer);
                      }
                  }) /
                  static_cast<double>(times * lots.size());
    return lap;
}

double fitted(const std::vector<stats::Observation>& lot) {
    const stats::CensoredFit fit = stats::fit_censored(lot, stats::Family::lognormal);
    return fit.location + fit.scale;
}

double shares(const std::vector<stats::Observation>& lot) {
    double sum = 0;
    const auto steps = stats::kaplan_meier(lot);
    for (const stats::SurvivalStep& step : *steps) {
        keep(stats::log_log_bounds(step, 1.959963984540054).low.value_or(0));
        sum += step.survival;
    }
    return sum;
}

Row row_of(const std::string& folder, const char* mode,
           double (*work)(const std::vector<stats::Observation>&)) {
    const auto lots = lots_of(50, 12);
    const std::string path = fmt::format("{}/lots-{}.txt", folder, mode);
    write(*lots, path);
    Row row;
    row.size = "12 specimens, two in seven beyond the record; mean of 50 lots";
    row.amount = 1;
    row.unit = "lots";
    row.ours = {"ours", [lots, work] { return over(*lots, 400, work); }};
    row.peers = {peer(mode == std::string("fit") ? "R survreg.fit" : "R survfit",
                      {"Rscript", EBBTIDE_PEERS "/lot.R", mode, path})};
    for (const std::size_t size : {12u, 120u, 1200u, 12'000u}) {
        const auto one = lots_of(1, size);
        row.growth.push_back(
            {static_cast<double>(size), [one, work, size] { return over(*one, 1'200'000 / size, work); }});
    }
    row.growth_unit = "specimens";
    return row;
}

}  // namespace

Row lot_row(const std::string& folder) {
    Row row = row_of(folder, "fit", fitted);
    row.id = "lot";
    row.work = "lognormal law of a lot with lower bounds, by maximum likelihood, with standard errors";
    row.goals = {{"at most 1/50 of R survreg.fit", "R survreg.fit", 50}};
    row.answer_tolerance = 1e-5;  // the peer stops at a relative change of 1e-9 in the likelihood
    row.limit = "erfc and exp of every bound in every step; logarithms of the times";
    return row;
}

Row lot_shares_row(const std::string& folder) {
    Row row = row_of(folder, "shares", shares);
    row.id = "lot_shares";
    row.work = "share of a lot that takes longer: Kaplan-Meier, Greenwood's errors, log-log bounds";
    row.goals = {{"at most 1/500 of R survfit", "R survfit", 500}};
    row.limit = "exp and log of the bounds";
    return row;
}

}  // namespace ebbtide::speed
