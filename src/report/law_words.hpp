#pragma once
// Laws, extrapolated times and Monte Carlo results in words, the same in report and terminal.

#include <string>

#include "decay/figures.hpp"

namespace ebbtide::report {

/// "two exponentials".
[[nodiscard]] std::string words_for(decay::LawKind kind);

/// The candidate that stands for the fall: the chosen one, else the converged one with the lowest sum of
/// squares; null when none converged.
[[nodiscard]] const decay::LawCandidate* shown_candidate(const decay::LawFigures& law);

/// Time constants and shape: "T 0.2034(12) s", "T1 0.101(4) s (62 %), T2 1.20(6) s (38 %)",
/// "T 0.31(2) s, exponent 0.62(1)", with the offset where it was fitted.
[[nodiscard]] std::string shape_text(const decay::LawCandidate& candidate);

/// What came of it in one sentence, without a full stop: "exponential, T 0.2034(12) s",
/// "none of these; ...", "not fitted: ...".
[[nodiscard]] std::string law_sentence(const decay::LawFigures& law);

/// The other candidate with the lowest criterion: "power, 2.1 above"; empty when there is none.
[[nodiscard]] std::string next_best_text(const decay::LawFigures& law);

/// "5.1 (4.2 to 7.0)", "5.1 (4.2 to never)", "never (not before 4.2)"; seconds, without the unit.
[[nodiscard]] std::string extrapolated_text(const decay::Extrapolated& time);

/// "Monte Carlo 0.486 to 0.541 s, u 0.014 s; slopes 0.487 to 0.540 s, agree". `figure` is measured and has
/// both.
[[nodiscard]] std::string monte_carlo_text(const decay::LevelFigure& figure);

}  // namespace ebbtide::report
