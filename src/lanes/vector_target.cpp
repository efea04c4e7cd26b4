#include "lanes/vector_target.hpp"

#include <cstdint>

#undef HWY_TARGET_INCLUDE
#define HWY_TARGET_INCLUDE "lanes/vector_target.cpp"
#include <hwy/foreach_target.h>
#include <hwy/highway.h>

HWY_BEFORE_NAMESPACE();
namespace ebbtide::lanes::HWY_NAMESPACE {

std::int64_t this_target() {
    return HWY_TARGET;
}

}  // namespace ebbtide::lanes::HWY_NAMESPACE
HWY_AFTER_NAMESPACE();

#if HWY_ONCE
namespace ebbtide::lanes {

HWY_EXPORT(this_target);

std::string vector_target() {
    return hwy::TargetName(HWY_DYNAMIC_DISPATCH(this_target)());
}

}  // namespace ebbtide::lanes
#endif
