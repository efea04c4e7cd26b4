#pragma once
// The engine's version, in every record; set once, in CMakeLists.txt.

namespace ebbtide {

#ifndef EBBTIDE_VERSION
#error "EBBTIDE_VERSION comes from CMakeLists.txt"
#endif
inline constexpr const char* version_text = EBBTIDE_VERSION;

}  // namespace ebbtide
