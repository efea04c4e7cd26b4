#pragma once
// Measures runs as their samples come, block by block: what files and live sources share.

#include <memory>
#include <optional>

#include "work/measure.hpp"

namespace ebbtide::work {

/// A charge that has begun and whose run is not cut yet. It may turn out to be noise.
struct RunInProgress {
    double charge_start_s = 0;  ///< on the recording's own time axis
    bool at_rest = false;       ///< the fall is over; the run is cut when its tail has been seen too
};

/// One object a recording. Memory: the longest run and one block, and the runs measured until
/// forget_runs(). One thread.
class Measuring {
  public:
    /// `seen`, when given, is called once a run, and `keep` before it. Only the description of the source is
    /// looked at, and copied.
    Measuring(const recording::Source& source, MeasureRequest request, RunSeen seen = {}, RunKept keep = {});
    Measuring(const Measuring&) = delete;
    Measuring& operator=(const Measuring&) = delete;
    ~Measuring();

    /// Error: no channel is the specimen voltage. Then nothing else may be asked.
    [[nodiscard]] std::optional<Error> unfit() const;
    /// The next block. Errors: a number that no bench reads; those of `keep`.
    [[nodiscard]] Result<Done> take(const recording::Block& block);
    /// Nothing more comes: the run in progress is cut, if it has fallen. Errors: those of `keep`.
    [[nodiscard]] Result<Done> end();
    /// Once, after end(), with what only the whole source tells.
    [[nodiscard]] MeasuredFile finish(recording::Source& source);

    /// Between blocks.
    [[nodiscard]] std::optional<RunInProgress> in_progress() const;
    /// Figures of the run in progress over what has come of it: without its tail, so not the ones that count,
    /// and without law and Monte Carlo. Nothing where there is no run, or too little of it.
    [[nodiscard]] std::optional<decay::Figures> figures_so_far() const;
    /// Lets go of the runs that `seen` was given. The recording's record keeps their ids.
    void forget_runs();

  private:
    class State;
    recording::Description about_;
    MeasureRequest request_;
    RunSeen seen_;
    RunKept keep_;
    std::unique_ptr<State> state_;
};

}  // namespace ebbtide::work
