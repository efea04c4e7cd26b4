#pragma once
// The chance of a wrong decision at a limit (JCGM 106:2012; its clause numbers here are from memory).
//
// Pure functions. Values, limits, uncertainties and guard bands of one call share one unit, whichever it is.
// Two kinds of risk, which are not to be mixed: the specific risk belongs to one measured value and rests on
// its uncertainty alone; the global risk belongs to a procedure before anything is measured and needs to know
// how the true values of such material are spread.

#include <optional>

namespace ebbtide::judge {

/// Where a true value conforms: from `lower` up, to `upper` down; at least one is given, lower < upper.
struct Limits {
    std::optional<double> lower = {};
    std::optional<double> upper = {};
};

/// What a measurement says of a true value: the value, its standard uncertainty u >= 0 and the degrees of
/// freedom of u (> 0; absent: infinite).
struct Estimate {
    double value = 0;
    double u = 0;
    std::optional<double> degrees_of_freedom = {};
};

/// Probability that the true value conforms, 0 to 1 (JCGM 106:2012, 7.2 to 7.4):
///
///     p_c = F((T_U - y)/u) - F((T_L - y)/u),   a limit that is not there counting as infinite.
///
/// F is the normal distribution; with finite degrees of freedom Student's, shifted to y and scaled by u
/// (JCGM 101:2008, 6.4.9.2), so that a value that lies its U = t(0.975) u inside its one limit conforms with
/// 97.5 % whatever the degrees of freedom. With u = 0 the value is taken for the true one. For a value that
/// was rejected this is the probability of a wrong rejection (specific producer's risk, 9.3).
[[nodiscard]] double probability_within(const Estimate& estimate, const Limits& limits);

/// 1 - p_c, without the loss of digits: for a value that was accepted, the probability of a wrong acceptance
/// (specific consumer's risk, JCGM 106:2012, 9.3).
[[nodiscard]] double probability_beyond(const Estimate& estimate, const Limits& limits);

/// How true values are spread before the measurement: normal, standard_deviation > 0.
struct Prior {
    double mean = 0;
    double standard_deviation = 0;
};

/// Both are shares of all pieces measured, 0 to 1.
struct GlobalRisk {
    double consumer = 0;  ///< accepted, and does not conform
    double producer = 0;  ///< not accepted, and conforms
};

/// Global risks of accepting what is measured at least `guard` inside the limits (JCGM 106:2012, 9.5), for a
/// normal prior g and a normal measurement with standard uncertainty u >= 0:
///
///     R_C = integral over eta outside the limits of g(eta) a(eta),
///     R_P = integral over eta inside the limits of g(eta) (1 - a(eta)),
///     a(eta) = Phi((T_U - w - eta)/u) - Phi((T_L + w - eta)/u).
///
/// guard (w) may be negative, which accepts beyond the limits. By quadrature, to 1e-9 of 1.
[[nodiscard]] GlobalRisk global_risk(const Prior& prior, double u, const Limits& limits, double guard);

}  // namespace ebbtide::judge
