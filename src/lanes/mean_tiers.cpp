#include "lanes/mean_tiers.hpp"

#undef HWY_TARGET_INCLUDE
#define HWY_TARGET_INCLUDE "lanes/mean_tiers.cpp"
#include <hwy/foreach_target.h>
#include <hwy/highway.h>

#include "lanes/four_lanes_inl.hpp"

HWY_BEFORE_NAMESPACE();
namespace ebbtide::lanes::HWY_NAMESPACE {

/// Sums over four blocks that follow each other.
HWY_INLINE std::array<double, 4> four_sums(const double* y, std::size_t block) {
    const Lanes lanes;
    const std::size_t width = hn::Lanes(lanes);
    if (block < width) {
        std::array<double, 4> sums{};
        for (double& sum : sums)
            for (std::size_t i = 0; i < block; ++i) sum += *y++;
        return sums;
    }
    const double *const second = y + block, *const third = second + block, *const fourth = third + block;
    V a = hn::Zero(lanes), b = a, c = a, d = a;
    std::size_t i = 0;
    for (; i + width <= block; i += width) {
        a = hn::Add(a, hn::LoadU(lanes, y + i));
        b = hn::Add(b, hn::LoadU(lanes, second + i));
        c = hn::Add(c, hn::LoadU(lanes, third + i));
        d = hn::Add(d, hn::LoadU(lanes, fourth + i));
    }
    if (i < block) {
        // What is left, out of the last whole vector of the block.
        const std::size_t last = block - width;
        const auto fresh = hn::Ge(hn::Iota(lanes, 0), set(static_cast<double>(i - last)));
        a = hn::Add(a, hn::IfThenElseZero(fresh, hn::LoadU(lanes, y + last)));
        b = hn::Add(b, hn::IfThenElseZero(fresh, hn::LoadU(lanes, second + last)));
        c = hn::Add(c, hn::IfThenElseZero(fresh, hn::LoadU(lanes, third + last)));
        d = hn::Add(d, hn::IfThenElseZero(fresh, hn::LoadU(lanes, fourth + last)));
    }
    return {total(a), total(b), total(c), total(d)};
}

void fill_means(const double* y, double less, MeanTiers& out) {
    static_assert(MeanTiers::rows % 4 == 0);
    for (std::size_t s = 0; s < out.tiers; ++s) {
        const auto block = static_cast<std::size_t>(out.block[s]);
        const double* at = y + static_cast<std::size_t>(out.start[s]);
        const double share = 1 / out.block[s];
        for (std::size_t r = 0; r < MeanTiers::rows; r += 4, at += 4 * block) {
            const std::array<double, 4> sums = four_sums(at, block);
            for (std::size_t k = 0; k < 4; ++k) out.mean[(r + k) * out.padded + s] = share * sums[k] - less;
        }
    }
    const Lanes lanes;
    V sum = hn::Zero(lanes), squares = sum;
    for (std::size_t s = 0; s < out.padded; s += hn::Lanes(lanes)) {
        V tier_sum = hn::Zero(lanes), tier_squares = tier_sum;
        for (std::size_t r = 0; r < MeanTiers::rows; ++r) {
            const V mean = hn::Load(lanes, &out.mean[r * out.padded + s]);
            tier_sum = hn::Add(tier_sum, mean);
            tier_squares = hn::MulAdd(mean, mean, tier_squares);
        }
        const V weight = hn::Load(lanes, &out.weight[s]);
        sum = hn::MulAdd(weight, tier_sum, sum);
        squares = hn::MulAdd(weight, tier_squares, squares);
    }
    out.sum = total(sum);
    out.squares = total(squares);
}

}  // namespace ebbtide::lanes::HWY_NAMESPACE
HWY_AFTER_NAMESPACE();

#if HWY_ONCE
namespace ebbtide::lanes {

HWY_EXPORT(fill_means);

void take_means(std::span<const double> y, double less, MeanTiers& out) {
    constexpr std::size_t rows = MeanTiers::rows;
    const std::size_t count = y.size();
    out.tiers = 0;
    const auto add = [&](std::size_t start, std::size_t block) {
        out.start[out.tiers] = static_cast<double>(start);
        out.block[out.tiers++] = static_cast<double>(block);
    };
    // Tiers double as long as the last one, which takes what remains, has half a doubling left.
    add(0, 1);
    std::size_t start = rows;
    for (; count >= 3 * start; start *= 2) add(start, start / rows);
    add(start, (count - start) / rows);
    out.padded = (out.tiers + 3) / 4 * 4;
    out.count = rows * out.tiers;
    out.samples = 0;
    for (std::size_t s = 0; s < out.padded; ++s) {
        const bool there = s < out.tiers;
        if (!there) {
            out.start[s] = 0;
            out.block[s] = 1;
            for (std::size_t r = 0; r < rows; ++r) out.mean[r * out.padded + s] = 0;
        }
        out.weight[s] = there ? out.block[s] : 0;
        out.samples += static_cast<double>(rows) * out.weight[s];
    }
    HWY_DYNAMIC_DISPATCH(fill_means)(y.data(), less, out);
}

}  // namespace ebbtide::lanes
#endif
