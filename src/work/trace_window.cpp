#include "work/trace_window.hpp"

#include <algorithm>
#include <limits>
#include <stdexcept>

namespace ebbtide::work {
namespace {

constexpr std::size_t samples_a_block = 64;

/// The first lowest and the first highest of what it is shown.
struct Search {
    std::span<const double> value;
    std::size_t lowest, highest;

    void see(std::size_t i) {
        if (value[i] < value[lowest] || (value[i] == value[lowest] && i < lowest)) lowest = i;
        if (value[i] > value[highest] || (value[i] == value[highest] && i < highest)) highest = i;
    }
};

}  // namespace

Extremes::Extremes(std::span<const double> value) {
    if (value.size() > std::numeric_limits<std::uint32_t>::max())
        throw std::length_error("more samples than a run can have");
    const auto index = [](std::size_t i) { return static_cast<std::uint32_t>(i); };
    std::size_t below = value.size();
    while (below > samples_a_block) {
        std::vector<Pair> tier;
        tier.reserve((below + samples_a_block - 1) / samples_a_block);
        for (std::size_t first = 0; first < below; first += samples_a_block) {
            const std::size_t last = std::min(first + samples_a_block, below);
            const bool finest = tiers_.empty();
            Search search{value, finest ? first : tiers_.back()[first].lowest,
                          finest ? first : tiers_.back()[first].highest};
            for (std::size_t i = first; i < last; ++i) {
                search.see(finest ? i : tiers_.back()[i].lowest);
                search.see(finest ? i : tiers_.back()[i].highest);
            }
            tier.push_back({index(search.lowest), index(search.highest)});
        }
        below = tier.size();
        tiers_.push_back(std::move(tier));
    }
}

std::pair<std::size_t, std::size_t> Extremes::of(std::span<const double> value, std::size_t first,
                                                 std::size_t last) const {
    Search search{value, first, first};
    // From both ends to the next whole samples_a_block, then the same one tier up.
    std::size_t tier = 0;
    const auto see = [&](std::size_t i) {
        if (tier == 0) {
            search.see(i);
            return;
        }
        search.see(tiers_[tier - 1][i].lowest);
        search.see(tiers_[tier - 1][i].highest);
    };
    for (; first < last; ++tier) {
        if (tier == tiers_.size() || last - first < 2 * samples_a_block) {
            for (; first < last; ++first) see(first);
            break;
        }
        for (; first % samples_a_block != 0; ++first) see(first);
        for (; last % samples_a_block != 0; --last) see(last - 1);
        first /= samples_a_block;
        last /= samples_a_block;
    }
    return {search.lowest, search.highest};
}

TraceWindow trace_window(const trace::Samples& samples, const Extremes& extremes, double from_s, double to_s,
                         std::size_t columns) {
    TraceWindow out;
    const std::size_t first = samples.at_or_after(from_s);
    const auto end = std::ranges::upper_bound(samples.time_s, to_s);
    const auto last = std::max(first, static_cast<std::size_t>(end - samples.time_s.begin()));
    out.in_window = last - first;
    const auto keep = [&](std::size_t i) {
        out.time_s.push_back(samples.time_s[i]);
        out.value.push_back(samples.value[i]);
    };
    if (out.in_window <= 2 * columns) {
        for (std::size_t i = first; i < last; ++i) keep(i);
        return out;
    }
    out.thinned = true;
    std::size_t begin = first;
    for (std::size_t k = 0; k < columns && begin < last; ++k) {
        const double to =
            from_s + (to_s - from_s) * (static_cast<double>(k + 1) / static_cast<double>(columns));
        const std::size_t stop = k + 1 == columns ? last : std::clamp(samples.at_or_after(to), begin, last);
        if (stop == begin) continue;
        const auto [low, high] = extremes.of(samples.value, begin, stop);
        keep(std::min(low, high));
        if (low != high) keep(std::max(low, high));
        begin = stop;
    }
    return out;
}

}  // namespace ebbtide::work
