#pragma once
// Which of the instruction sets that the vector code was compiled for runs on this processor.

#include <string>

namespace ebbtide::lanes {

/// Highway's name of it: "AVX2", "AVX3_ZEN4", "SSE2".
[[nodiscard]] std::string vector_target();

}  // namespace ebbtide::lanes
