#pragma once
// Laws fitted to the falls of a recording.

#include <string>
#include <vector>

#include "basis/result.hpp"
#include "decay/law_figures.hpp"
#include "plan/flag.hpp"
#include "recording/source.hpp"
#include "work/measure.hpp"

namespace ebbtide::work {

struct FittedRun {
    std::string run_id;  ///< as measure() has it; empty for bare pairs
    plan::Polarity polarity = plan::Polarity::positive;
    decay::LawFigures law;
    std::vector<plan::Flag> flags;
};

struct FittedFile {
    std::vector<FittedRun> runs;
    std::vector<plan::Flag> flags;  ///< of the recording as a whole
};

/// Measures every run of `source` and fits the laws that `request.laws` asks for (all where it asks for none
/// in particular). Errors: those of measure(); a law of the fixture is asked for by name and the bench does
/// not state the fixture.
[[nodiscard]] Result<FittedFile> fit_runs(recording::Source& source, MeasureRequest request);

/// Why a law that is asked for by name cannot be fitted on this bench; nothing when all can.
[[nodiscard]] std::optional<Error> problem_of(const decay::LawQuestion& question,
                                              const std::optional<plan::Bench>& bench);

}  // namespace ebbtide::work
