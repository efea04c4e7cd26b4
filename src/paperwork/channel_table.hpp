#pragma once
// The [channels] table of benches, recordings and folders. docs/formats/bench.md explains its keys.

#include "paperwork/table_reader.hpp"
#include "plan/channel_names.hpp"

namespace ebbtide::paperwork {

/// What the table says, empty where it is absent.
[[nodiscard]] plan::ChannelNames channel_names(TableReader& owner);

}  // namespace ebbtide::paperwork
