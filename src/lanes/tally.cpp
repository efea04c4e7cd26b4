#include "lanes/tally.hpp"

#include <bit>
#include <cstddef>
#include <cstdint>

#undef HWY_TARGET_INCLUDE
#define HWY_TARGET_INCLUDE "lanes/tally.cpp"
#include <hwy/foreach_target.h>
#include <hwy/highway.h>

HWY_BEFORE_NAMESPACE();
namespace ebbtide::lanes::HWY_NAMESPACE {

namespace hn = hwy::HWY_NAMESPACE;
// Four sums whatever a vector holds, and no fused multiply-add: the same bits everywhere.
using Lanes = hn::CappedTag<double, 4>;

/// For each pattern of bits the lanes whose bit is set, then the others. The library's own Compress makes its
/// table anew at every call on AVX2, which takes ten times as long as all the rest (Highway 1.0.3).
struct Order {
    HWY_ALIGN std::array<std::array<std::int64_t, 4>, 16> lanes{};

    constexpr Order() {
        for (std::size_t bits = 0; bits < 16; ++bits) {
            std::size_t place = 0;
            for (const std::size_t wanted : {1u, 0u})
                for (std::size_t lane = 0; lane < 4; ++lane)
                    if ((bits >> lane & 1) == wanted) lanes[bits][place++] = static_cast<std::int64_t>(lane);
        }
    }
};
constexpr Order order;

void count_in(const double* values, std::size_t count, Tally& tally) {
    const Lanes lanes;
    constexpr std::size_t width = hn::MaxLanes(Lanes());
    const auto shift = hn::Set(lanes, tally.shift);
    const auto low = hn::Set(lanes, tally.low), high = hn::Set(lanes, tally.high);
    double* kept = tally.kept;
    for (std::size_t part = 0; part < 4; part += width) {
        auto sum = hn::LoadU(lanes, &tally.sum[part]), squares = hn::LoadU(lanes, &tally.squares[part]);
        for (std::size_t i = part; i + width <= count; i += 4) {
            const auto v = hn::LoadU(lanes, values + i);
            const auto from_shift = hn::Sub(v, shift);
            sum = hn::Add(sum, from_shift);
            squares = hn::Add(squares, hn::Mul(from_shift, from_shift));
            // Written always, and kept when it belongs: a branch would be guessed wrong too often.
            std::uint8_t bits[8] = {};
            hn::StoreMaskBits(lanes, hn::Or(hn::Le(v, low), hn::Ge(v, high)), bits);
            const auto first_wanted = hn::SetTableIndices(lanes, order.lanes[bits[0]].data());
            hn::StoreU(hn::TableLookupLanes(v, first_wanted), lanes, kept);
            kept += std::popcount(bits[0]);
        }
        hn::StoreU(sum, lanes, &tally.sum[part]);
        hn::StoreU(squares, lanes, &tally.squares[part]);
    }
    for (std::size_t i = count - count % width; i < count; ++i) {
        const double v = values[i], from_shift = v - tally.shift;
        tally.sum[i % 4] += from_shift;
        tally.squares[i % 4] += from_shift * from_shift;
        *kept = v;
        kept += v <= tally.low || v >= tally.high;
    }
    tally.kept = kept;
}

}  // namespace ebbtide::lanes::HWY_NAMESPACE
HWY_AFTER_NAMESPACE();

#if HWY_ONCE
namespace ebbtide::lanes {

HWY_EXPORT(count_in);

void count_in(std::span<const double> values, Tally& tally) {
    HWY_DYNAMIC_DISPATCH(count_in)(values.data(), values.size(), tally);
}

}  // namespace ebbtide::lanes
#endif
