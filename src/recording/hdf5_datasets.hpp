#pragma once
// HDF5 files of others: datasets that lie side by side in a group are read as columns of text are.

#include <memory>
#include <string>

#include "recording/hdf5_access.hpp"
#include "recording/source.hpp"

namespace ebbtide::recording::hdf5 {

/// Errors: no datasets of numbers side by side (says what was seen); channels cannot be told apart.
[[nodiscard]] Result<std::unique_ptr<Source>> open_datasets(Handle file, const std::string& name,
                                                            const ReadOptions& options);

}  // namespace ebbtide::recording::hdf5
