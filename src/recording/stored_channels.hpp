#pragma once
// Options that name channels, where the recording says itself what its channels are.

#include <optional>
#include <string>
#include <vector>

#include "recording/source.hpp"

namespace ebbtide::recording {

/// Gives the channels that --specimen, --electrode and --marker name their parts; who had the part before
/// becomes `other`. A name is a heading (with or without its unit, case does not matter) or a column number
/// of the original; where channels have none, their own number from 1. `file` stands in errors.
/// Errors: an option that names no channel, or several, or one that another option names too.
[[nodiscard]] std::optional<Error> name_channels(std::vector<trace::ChannelDescription>& channels,
                                                 const ReadOptions& options, const std::string& file);

}  // namespace ebbtide::recording
