#pragma once
// Measures every run of a recording: reads it block by block, cuts runs as they pass, takes their figures.

#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "basis/result.hpp"
#include "decay/figures.hpp"
#include "decay/run_law.hpp"
#include "plan/bench.hpp"
#include "plan/method.hpp"
#include "record/order_record.hpp"
#include "recording/source.hpp"

namespace ebbtide::work {

/// What is known of a run before it is measured.
struct RunPlace {
    std::optional<decay::ReferenceLevel> reference = {};  ///< V0, where the method takes it from another run
    bool without_specimen = false;  ///< it is such a run: only the level that it holds is asked for
};

struct MeasureRequest {
    plan::DecayRules rules;
    std::optional<plan::Bench> bench;
    std::vector<RunPlace> places = {};  ///< of the runs in their order; runs beyond are as any other
    std::optional<decay::LawQuestion> laws = {};  ///< what to ask of the falls; nothing: no laws are fitted
    bool monte_carlo = false;  ///< beside each budget; orders ask for it when their budgets are whole
    /// Id of the one run that figures are taken of, of none when it is empty; absent: of every run.
    std::optional<std::string> only = {};
};

/// Rules of `measure` when no method is named: levels 0.5, 1/e and 0.1 of the hold's mean.
[[nodiscard]] plan::DecayRules usual_rules();

struct MeasuredRun {
    std::string run_id;  ///< SHA-256 of the run's samples as recorded: the same from file, pipe and merge
    decay::Figures figures;
    std::vector<plan::Flag> flags;  ///< those of the figures and those of the recording that fall on this run
};

/// The samples of a run while it is in memory, after bench gain, before zero and sign.
using RunSeen = std::function<void(const MeasuredRun&, const decay::RunTrace&)>;

/// A run as recorded, as a segment of its own: the samples that its id is made of, in the channels of the
/// source's description, the notices that fall on it, and where it was cut.
using RunKept = std::function<Result<Done>(const recording::Block&)>;

struct MeasuredFile {
    record::RecordingRecord recording;
    std::vector<MeasuredRun> runs;
    std::vector<plan::Flag> flags;                      ///< of the recording as a whole
    std::optional<recording::KeptRuns> kept_runs = {};  ///< when they are all that was read
};

/// Reads `source` to its end. Memory: the longest run and one block. `seen`, when given, is called once a
/// run, and `keep` before it. A source that holds kept runs is not cut again; a run of it that lacks a sample
/// is left out, with a notice. Errors: those of the source and of `keep`; no channel is the specimen voltage.
[[nodiscard]] Result<MeasuredFile> measure(recording::Source& source, const MeasureRequest& request,
                                           const RunSeen& seen = {}, const RunKept& keep = {});

}  // namespace ebbtide::work
