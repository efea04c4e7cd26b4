#pragma once
// Distributions as plain functions, so that one file alone compiles Boost.Math. Probabilities lie in (0, 1),
// degrees of freedom above 0; quantiles are inverse to `..._below`.

namespace ebbtide::stats {

[[nodiscard]] double normal_below(double z);
[[nodiscard]] double normal_quantile(double probability);

[[nodiscard]] double students_t_below(double t, double degrees_of_freedom);
[[nodiscard]] double students_t_quantile(double probability, double degrees_of_freedom);

/// (Z + noncentrality) / sqrt(chi^2 / df). Below 1e-12 of 1 the digits are lost.
[[nodiscard]] double noncentral_t_below(double t, double degrees_of_freedom, double noncentrality);
/// By a search over the above, to 1e-10 of itself.
[[nodiscard]] double noncentral_t_quantile(double probability, double degrees_of_freedom,
                                           double noncentrality);
/// The noncentrality under which `t` is exceeded with 1 - probability: confidence limits of a proportion.
[[nodiscard]] double noncentrality_for(double probability, double t, double degrees_of_freedom);

[[nodiscard]] double chi_squared_below(double x, double degrees_of_freedom);
[[nodiscard]] double chi_squared_quantile(double probability, double degrees_of_freedom);

[[nodiscard]] double f_above(double ratio, double numerator_df, double denominator_df);

/// At most `successes` of `trials`.
[[nodiscard]] double binomial_at_most(int successes, int trials, double probability);
/// At most `found` bad ones among `drawn` without replacement from a lot of `lot` that holds `bad`.
[[nodiscard]] double hypergeometric_at_most(int found, int drawn, int bad, int lot);

[[nodiscard]] double beta_quantile(double probability, double a, double b);

}  // namespace ebbtide::stats
