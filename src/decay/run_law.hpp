#pragma once
// The law of a run's fall: what of the run is fitted, and under which circumstances.

#include "decay/figures.hpp"
#include "decay/law_figures.hpp"
#include "fit/curve.hpp"
#include "sheet/modes.hpp"

namespace ebbtide::decay {

/// What is asked. By default every law that the circumstances allow, ending at the zero.
struct LawQuestion {
    std::vector<LawKind> kinds = {};  ///< candidates; empty: all that can be fitted
    Offset offset = {};
    bool robust = false;                     ///< single samples far off their neighbours lose their weight
    std::optional<sheet::Modes> modes = {};  ///< modes_of() the bench, to work them out once for all its runs
};

/// Of the sheet in the fixture of a bench that charges it between clamps; nothing where lengths are missing.
[[nodiscard]] std::optional<sheet::Modes> modes_of(const plan::Bench& bench);

/// The fall of a run as laws are fitted to it: seconds from the release, from where the electrode has come to
/// rest (and a lagging sensor has forgotten a release that only it saw) to the end of the record; volts after
/// zero and sign. Of very many samples means of neighbours.
[[nodiscard]] fit::CurveStore fall_of(const RunTrace& run, const Figures& figures,
                                      const std::optional<plan::Bench>& bench);

/// The release is known from elsewhere than the curve that is fitted.
[[nodiscard]] bool release_is_known(const Figures& figures);

/// Fits the fall of a run whose figures are known: from where the electrode has come to rest to the end of
/// the record. Knows of the sensor's lag, a short hold and the fixture where the bench states them. Pure,
/// never fails; what cannot be had is said in `missing`. Levels are those of the figures.
[[nodiscard]] LawFigures law_figures_of(const RunTrace& run, const Figures& figures,
                                        const std::optional<plan::Bench>& bench, const LawQuestion& question);

/// Enters the law of a run among its figures, and what follows from it: the flags no_law and sides_differ;
/// and where the method allows extrapolation and the law is not in doubt, decay times of levels that were not
/// reached, with the status `extrapolated`. A level whose time has no upper end stays `not_reached`.
void add_law(Figures& figures, const RunTrace& run, const plan::DecayRules& rules,
             const std::optional<plan::Bench>& bench, const LawQuestion& question);

/// What law_figures_of says of bare pairs: seconds from the release and volts, V0 the law's own.
[[nodiscard]] LawFigures law_figures_of(const fit::Curve& curve, const std::vector<plan::Level>& levels,
                                        const LawQuestion& question, fit::Scatter scatter);

}  // namespace ebbtide::decay
