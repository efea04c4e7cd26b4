#pragma once
// Reads a recording in a process of its own, for kinds whose library is known to fail on damaged files: a
// crash, a loop without end or a greedy allocation there is an error here.

#include <chrono>
#include <functional>
#include <memory>
#include <string>

#include "recording/source.hpp"

namespace ebbtide::recording {

struct Bounds {
    std::uint64_t memory_bytes = std::uint64_t{1} << 30;  ///< beyond what this process has when it begins
    std::chrono::seconds step{30};                        ///< of computing, from one block to the next
};

/// Opens the source in the other process and reads it from there. `descriptor` is the one file that the other
/// process keeps; it gets the same number there. `name` stands for it in errors. sha256() is empty and
/// bytes() 0: who has the bytes knows them. Errors: those of `open_there` and of its source; the other
/// process ended, took too long or sent nonsense. To be called before this process starts threads that hold
/// locks which `open_there` needs.
[[nodiscard]] Result<std::unique_ptr<Source>> open_apart(
    const std::function<Result<std::unique_ptr<Source>>()>& open_there, int descriptor,
    const std::string& name, const Bounds& bounds = {});

}  // namespace ebbtide::recording
