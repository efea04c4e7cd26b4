#pragma once
// Lets libhdf5 read through an open descriptor, by position: a recording out of a pipe or a report has no
// path.

#include "recording/hdf5_access.hpp"

namespace ebbtide::recording::hdf5 {

/// The file behind a descriptor, for reading only; no Handle when the library cannot open it.
[[nodiscard]] Handle open_descriptor(int descriptor);

}  // namespace ebbtide::recording::hdf5
