#pragma once
// A simulated bench that its own controls run, as a recorder beside it writes it down: lines of text, piece
// by piece.

#include <cstdint>
#include <memory>
#include <string>
#include <vector>

#include "bench/simulated_bench.hpp"
#include "plan/bench.hpp"
#include "plan/simulation.hpp"

namespace ebbtide::work {

/// One recording of a simulation. Memory: the bench. One thread.
class SimulatedRecorder {
  public:
    /// `number` of the recording makes its draws its own. Errors: of the bench; it names a channel by its
    /// number.
    [[nodiscard]] static Result<SimulatedRecorder> open(const plan::Simulation& simulation,
                                                        const plan::Bench& believed, std::size_t number,
                                                        std::uint64_t seed,
                                                        bench::Pace pace = bench::Pace::fast);

    /// Adds what a tenth of a second at most shows to `text`, in front of the first the lines above the
    /// numbers. False: the recording has ended. Errors: what is to be mounted cannot be.
    [[nodiscard]] Result<bool> go_on(std::string& text);
    [[nodiscard]] const bench::SimulatedBench& bench() const { return *bench_; }

  private:
    /// What a person does next: a command, a specimen, or nothing for a while.
    struct Move {
        std::optional<bench::Command> command = {};
        bool mounts = false;
        double wait_s = 0;
        std::string specimen = {};  ///< where it mounts
    };
    SimulatedRecorder() = default;
    void plan_moves(const plan::SimulatedRecording& recording);
    void put(const bench::Observation& seen, std::string& text) const;
    static void put_cell(std::string& text, double value, int places);

    std::unique_ptr<bench::SimulatedBench> bench_;
    std::vector<Move> moves_;
    std::size_t next_ = 0;
    std::string above_;  ///< the lines above the numbers, until they are written
    double rate_Hz_ = 0;
    int places_[2] = {-1, -1};  ///< of electrode and specimen, after the point; -1: as many as it takes
    int time_places_ = -1;
};

}  // namespace ebbtide::work
