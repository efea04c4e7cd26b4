#pragma once
// A simulated bench to listen to: its own controls run it, and we only hear what its recorder writes.

#include <memory>
#include <string>

#include "bench/simulated_bench.hpp"
#include "transport/byte_stream.hpp"

namespace ebbtide::work {

/// The text of one recording of a simulation, line by line as it comes about: the bytes that `simulate` would
/// write into a file. `recording` names it by its file, empty: the first; `name` is for people. Errors: as
/// reading a simulation; it has no such recording.
[[nodiscard]] Result<std::unique_ptr<transport::ByteStream>> simulated_stream(const std::string& simulation,
                                                                              const std::string& recording,
                                                                              bench::Pace pace,
                                                                              const std::string& name);

}  // namespace ebbtide::work
