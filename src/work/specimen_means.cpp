#include "work/specimen_means.hpp"

#include <algorithm>
#include <cmath>
#include <map>

#include "stats/censored_fit.hpp"
#include "stats/moments.hpp"

namespace ebbtide::work {
namespace {

// Bounds that hardly hold together have a best law far outside themselves: six decades either way tell
// nothing.
const double no_longer_known = std::log(1e6);

}  // namespace

using stats::Known;
using stats::Observation;

std::optional<Observation> mean_of(const std::vector<Observation>& times) {
    bool below = true, above = true, exact = true;  // there is a lower end, an upper end, no interval
    double lower = 0, upper = 0;
    for (const Observation& one : times) {
        const double share = 1.0 / static_cast<double>(times.size());
        if (one.known == Known::at_most) below = false;
        if (one.known == Known::at_least) above = false;
        if (one.known != Known::exactly) exact = false;
        lower += share * std::log(one.value);
        upper += share * std::log(one.known == Known::between ? one.upper : one.value);
    }
    if (times.size() == 1) return times.front();
    if (exact) return stats::exactly(std::exp(lower));
    if (below && above) return stats::between(std::exp(lower), std::exp(upper));
    if (below) return stats::at_least(std::exp(lower));
    if (above) return stats::at_most(std::exp(upper));
    return {};
}

std::vector<std::vector<const LotTime*>> by_specimen(const std::vector<LotTime>& times) {
    std::vector<std::vector<const LotTime*>> out;
    std::map<std::string, std::size_t> places;
    for (const LotTime& one : times) {
        const auto known = one.specimen.empty() ? places.end() : places.find(one.specimen);
        if (known == places.end()) {
            if (!one.specimen.empty()) places[one.specimen] = out.size();
            out.push_back({&one});
        } else {
            out[known->second].push_back(&one);
        }
    }
    return out;
}

std::optional<stats::GroupMean> group_mean(const std::vector<Observation>& sample) {
    if (sample.size() < 2) return {};
    const double n = static_cast<double>(sample.size());
    const bool exact =
        std::ranges::all_of(sample, [](const Observation& one) { return one.known == Known::exactly; });
    if (exact) {
        const stats::Moments moments = stats::moments_of(log_times(sample));
        if (!(moments.variance > 0)) return {};
        return stats::GroupMean{moments.mean, moments.variance / n, n - 1};
    }
    const stats::CensoredFit fit = stats::fit_censored(sample, stats::Family::lognormal);
    const double variance = fit.variance_location * n / (n - 1);
    if (!fit.fitted() || !(std::sqrt(variance) < no_longer_known)) return {};
    return stats::GroupMean{fit.location, variance, n - 1};
}

std::vector<double> log_times(const std::vector<Observation>& sample) {
    std::vector<double> out;
    for (const Observation& one : sample) out.push_back(std::log(one.value));
    return out;
}

}  // namespace ebbtide::work
