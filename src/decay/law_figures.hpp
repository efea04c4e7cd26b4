#pragma once
// What a fall says of the law behind it, as values that can be printed and compared.

#include <optional>
#include <string>
#include <vector>

#include "decay/law_kind.hpp"
#include "fit/parameter.hpp"
#include "plan/level.hpp"

namespace ebbtide::decay {

/// A decay time beyond the record, with the ends of its 95 % interval. All three nothing: the level is not
/// reached at all, as far as this law can be trusted. Times above a thousand records count as never.
struct Extrapolated {
    plan::Level level;
    std::optional<double> decay_s = {};  ///< nothing: the law ends above the level
    /// Nothing: chance lets it come as early as the end of the record. Never before that: the record would
    /// show it.
    std::optional<double> low_s = {};
    std::optional<double> high_s = {};  ///< nothing: the curve may never get there
};

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

struct LawPoint {
    double time_s = 0, law_V = 0;
};

/// One time compares laws of any number of time constants: that in which the law, undisturbed by lag and
/// short hold and without offset, falls to 1/e of its start.
struct PulseSides {
    /// The same of the charging side: its clock against the fall's. Nothing where the charging side has
    /// another shape, which runs at no pace of the fall's.
    std::optional<double> charging_time_s;
    double falling_time_s = 0;           ///< of the fall
    std::optional<double> difference;    ///< (charging - falling) / falling
    std::optional<double> u_difference;  ///< with what both sides' correlated noise leaves open
    /// Chance alone explains the difference, or it is too small to matter (2 %); and r describes the charging
    /// side as well as the fall. False by chance once in five hundred.
    bool agree = true;
    double left = 0;  ///< of the charging side, what the mirrored fall leaves: root mean square over r(0)
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
    std::vector<LawPoint> curve = {};  ///< the same law over the fall, for drawing: dense where it is steep
    std::optional<PulseSides> sides;
    std::string sides_missing;  ///< why they were not compared, in words; empty where they were, or no law is
};

}  // namespace ebbtide::decay
