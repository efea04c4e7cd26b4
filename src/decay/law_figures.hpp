#pragma once
// What a fall says of the law behind it, as values that can be printed and compared.

#include <optional>
#include <string>
#include <vector>

#include "decay/extrapolation.hpp"
#include "decay/law.hpp"
#include "decay/pulse_sides.hpp"
#include "fit/fit.hpp"

namespace ebbtide::decay {

/// A candidate, fitted.
struct LawCandidate {
    LawKind kind = LawKind::exponential;
    fit::Outcome outcome = fit::Outcome::not_run;
    std::string reason;                      ///< in words, when it did not converge
    std::string merged;                      ///< the two parameters that say the same; mostly empty
    std::vector<fit::Parameter> parameters;  ///< amplitudes first; empty when it failed
    std::optional<double> rss = {};          ///< V^2
    std::optional<double> aicc;              ///< nothing when a parameter is not determined
    double weight = 0;                       ///< Akaike's, among the candidates; they sum to 1 or are all 0
    std::vector<Extrapolated> extrapolated = {};  ///< levels that the record does not reach
};

/// Mean residual of a stretch of the fall and the noise of such a mean.
struct ResidualPoint {
    double time_s = 0;
    double residual_V = 0;
    double u_V = 0;
    double law_V = 0;  ///< what the law says there
};

/// Of one fall. Times from the release.
struct LawFigures {
    std::string missing;          ///< why no law was fitted; empty otherwise
    double from_s = 0, to_s = 0;  ///< the stretch that was fitted
    std::size_t samples = 0;
    double effective_samples = 0;
    double lag_s = 0;              ///< of the sensor, as allowed for; 0: not
    std::optional<double> hold_s;  ///< the short hold, as allowed for
    std::vector<LawCandidate> candidates;
    std::optional<std::size_t> chosen;  ///< index among the candidates
    std::optional<bool> adequate;       ///< whether the chosen law describes the fall; nothing: not judged
    std::string doubt;                  ///< what speaks against it, in words; empty when adequate
    std::vector<Extrapolated> extrapolated;  ///< averaged over the candidates
    std::vector<ResidualPoint> residuals;    ///< of the chosen law, or of the best; oldest first
    std::optional<PulseSides> sides;
};

}  // namespace ebbtide::decay
