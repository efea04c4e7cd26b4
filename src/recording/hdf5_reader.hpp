#pragma once
// Recordings as HDF5, our own layout and those of others: docs/formats/hdf5.md.

#include <memory>
#include <string>
#include <string_view>

#include "recording/bytes.hpp"
#include "recording/source.hpp"

namespace ebbtide::recording {

/// Told by the first bytes, or by those behind a block of 512 that other programs put in front.
[[nodiscard]] bool looks_like_hdf5(std::string_view head);

/// Reads in a process of its own, because the library fails on damaged files. Errors: damaged; a newer
/// layout; no datasets that could be a recording (says what was seen); more than 1 GiB from a pipe.
[[nodiscard]] Result<std::unique_ptr<Source>> open_hdf5(Bytes bytes, const ReadOptions& options);

namespace hdf5 {

/// The same in this process, for that other one, which has the file under `descriptor`.
[[nodiscard]] Result<std::unique_ptr<Source>> open_here(int descriptor, const std::string& name,
                                                        const ReadOptions& options);

}  // namespace hdf5

}  // namespace ebbtide::recording
