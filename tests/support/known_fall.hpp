#pragma once
// The noise-free runs of the validation, for tests that build on them.

#include "validation/known_fall.hpp"

namespace ebbtide::testing_support {

using validation::figures_of;
using validation::KnownFall;

}  // namespace ebbtide::testing_support
