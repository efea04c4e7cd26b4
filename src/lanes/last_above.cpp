#include "lanes/last_above.hpp"

#include <algorithm>
#include <array>

// Highway compiles what stands between its two namespace marks once for each instruction set and picks one at
// run time.
#undef HWY_TARGET_INCLUDE
#define HWY_TARGET_INCLUDE "lanes/last_above.cpp"
#include <hwy/foreach_target.h>
#include <hwy/highway.h>

HWY_BEFORE_NAMESPACE();
namespace ebbtide::lanes::HWY_NAMESPACE {

namespace hn = hwy::HWY_NAMESPACE;

constexpr std::size_t block = 64;
constexpr std::size_t chunk = 64 * block;
// At most four: wider loads straddle cache lines wherever the samples are not aligned.
using Lanes = hn::CappedTag<double, 4>;

/// The largest values of a block, lane by lane: folding them into one number would cost more than it saves.
HWY_INLINE hn::Vec<Lanes> maxima_of(const double* values) {
    const Lanes lanes;
    const std::size_t width = hn::Lanes(lanes);
    auto a = hn::LoadU(lanes, values), b = hn::LoadU(lanes, values + width);
    auto c = hn::LoadU(lanes, values + 2 * width), d = hn::LoadU(lanes, values + 3 * width);
    for (std::size_t i = 4 * width; i < block; i += 4 * width) {
        a = hn::Max(a, hn::LoadU(lanes, values + i));
        b = hn::Max(b, hn::LoadU(lanes, values + i + width));
        c = hn::Max(c, hn::LoadU(lanes, values + i + 2 * width));
        d = hn::Max(d, hn::LoadU(lanes, values + i + 3 * width));
    }
    return hn::Max(hn::Max(a, b), hn::Max(c, d));
}

/// One past the last of `count` values above the threshold; 0 when none is.
std::size_t end_above(const double* values, std::size_t count, double threshold) {
    const Lanes lanes;
    const std::size_t width = hn::Lanes(lanes);
    const auto limit = hn::Set(lanes, threshold);
    std::size_t end = count;
    while (end >= width && hn::AllFalse(lanes, hn::Gt(hn::LoadU(lanes, values + (end - width)), limit)))
        end -= width;
    while (end > 0 && !(values[end - 1] > threshold)) --end;
    return end;
}

/// Chunks are taken from the end, so that early values are not read once every level is found; within a chunk
/// memory is read forward, which it serves faster, and the levels are then sought among the maxima of its
/// blocks.
void search(std::span<const double> values, std::span<const double> thresholds,
            std::span<std::optional<std::size_t>> found) {
    const Lanes lanes;
    const std::size_t width = hn::Lanes(lanes);
    HWY_ALIGN std::array<double, chunk / block * 4> maxima;  // a vector a block
    std::ranges::fill(found, std::nullopt);
    std::size_t left = thresholds.size();
    for (std::size_t end = values.size(); end > 0 && left > 0;) {
        const std::size_t first = end > chunk ? end - chunk : 0;
        const double* const at = values.data() + first;
        const std::size_t blocks = (end - first) / block;
        for (std::size_t b = 0; b < blocks; ++b)
            hn::Store(maxima_of(at + b * block), lanes, &maxima[b * width]);
        for (std::size_t k = 0; k < thresholds.size(); ++k) {
            if (found[k]) continue;
            const auto limit = hn::Set(lanes, thresholds[k]);
            std::size_t above = end_above(at + blocks * block, end - first - blocks * block, thresholds[k]);
            if (above > 0) above += blocks * block;
            for (std::size_t b = blocks; above == 0 && b-- > 0;)
                if (!hn::AllFalse(lanes, hn::Gt(hn::Load(lanes, &maxima[b * width]), limit)))
                    above = b * block + end_above(at + b * block, block, thresholds[k]);
            if (above == 0) continue;
            found[k] = first + above - 1;
            --left;
        }
        end = first;
    }
}

}  // namespace ebbtide::lanes::HWY_NAMESPACE
HWY_AFTER_NAMESPACE();

#if HWY_ONCE
namespace ebbtide::lanes {

HWY_EXPORT(search);

std::optional<std::size_t> last_above(std::span<const double> values, double threshold) {
    std::optional<std::size_t> found;
    last_above(values, {&threshold, 1}, {&found, 1});
    return found;
}

void last_above(std::span<const double> values, std::span<const double> thresholds,
                std::span<std::optional<std::size_t>> found) {
    HWY_DYNAMIC_DISPATCH(search)(values, thresholds, found);
}

}  // namespace ebbtide::lanes
#endif
