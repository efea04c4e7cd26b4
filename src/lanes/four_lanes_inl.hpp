// Vectors of at most four numbers, for the kernels of this folder that sum over a fall. Included once for
// each instruction set, so the guard turns with Highway's.
#if defined(EBBTIDE_LANES_FOUR) == defined(HWY_TARGET_TOGGLE)
#ifdef EBBTIDE_LANES_FOUR
#undef EBBTIDE_LANES_FOUR
#else
#define EBBTIDE_LANES_FOUR
#endif

#include <hwy/highway.h>

HWY_BEFORE_NAMESPACE();
namespace ebbtide::lanes::HWY_NAMESPACE {

namespace hn = hwy::HWY_NAMESPACE;
// Sixteen rows of tiers in steps of four leave little to wider vectors.
using Lanes = hn::CappedTag<double, 4>;
using V = hn::Vec<Lanes>;

HWY_INLINE V set(double number) {
    return hn::Set(Lanes(), number);
}
HWY_INLINE double total(V v) {
    return hn::GetLane(hn::SumOfLanes(Lanes(), v));
}

}  // namespace ebbtide::lanes::HWY_NAMESPACE
HWY_AFTER_NAMESPACE();

#endif
