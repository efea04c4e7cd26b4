#pragma once
// Recordings of a bench that is not there, and the truth of them.

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "basis/result.hpp"
#include "bench/simulated_bench.hpp"
#include "plan/bench.hpp"
#include "plan/simulation.hpp"

namespace ebbtide::work {

/// A simulation and the bench file that it names.
struct SimulatedBenchFiles {
    plan::Simulation simulation;
    plan::Bench bench;
};
/// Errors: as reading either; the bench file leads out of the simulation's folder.
[[nodiscard]] Result<SimulatedBenchFiles> read_simulation(const std::string& path);

struct SimulatedTrace {
    std::string csv;                           ///< as a recorder would have written it
    std::vector<bench::TrueRelease> releases;  ///< times in those of the recording
    std::vector<bench::TrueFault> faults;
};
/// One of the simulation's recordings; `number` of it makes its draws its own. Errors: of the bench.
[[nodiscard]] Result<SimulatedTrace> simulate_recording(const plan::Simulation& simulation,
                                                        const plan::Bench& bench, std::size_t number,
                                                        std::uint64_t seed);

struct SimulateRequest {
    std::string simulation;                  ///< file
    std::string output;                      ///< file of a kind of its ending, or folder
    std::string recording;                   ///< the one that is wanted; empty: all
    std::optional<std::uint64_t> seed = {};  ///< instead of the simulation's
};
struct SimulatedFiles {
    std::vector<std::string> recordings;
    std::string truth;
    std::size_t releases = 0;
};
/// Writes the recordings, each over an older one of its name, and the truth beside them
/// (docs/formats/simulation.md). Errors: of the simulation; several recordings for one file; nothing can be
/// written there.
[[nodiscard]] Result<SimulatedFiles> simulate(const SimulateRequest& request);

}  // namespace ebbtide::work
