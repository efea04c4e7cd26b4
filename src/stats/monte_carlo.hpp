#pragma once
// Uncertainty by drawing: the adaptive procedure of JCGM 101:2008, clause 7.9, for a model of any kind.

#include <cstddef>
#include <cstdint>
#include <functional>
#include <optional>
#include <span>

namespace ebbtide::stats {

/// The model's values for the trials from `first` on, all finite; `values` arrive as zeros. A function of the
/// trial alone (draws come from lanes/random.hpp with the trial as their place), called from several threads
/// at once.
using Model = std::function<void(std::uint64_t first, std::span<double> values)>;

struct MonteCarloOptions {
    /// Significant digits of u that must hold (7.9.2): half a unit of the last one is the tolerance.
    int digits = 2;
    /// Whole blocks of 10^4 trials. The standard lets two blocks agree by chance; ten are a fair sample of
    /// how blocks scatter.
    std::size_t least_trials = 100'000;
    std::size_t most_trials = 2'000'000;
    unsigned threads = 1;   ///< the numbers are the same for any count
    bool shortest = false;  ///< seek the shortest interval too: sorts a tenth of the trials
    /// The values may have no variance (Student's t below three degrees of freedom): then `mean` is the
    /// average of the blocks' medians and `u` is half the 95 % interval over 1.96.
    bool heavy_tails = false;
};

struct Interval {
    double low = 0, high = 0;
};

struct MonteCarloResult {
    double mean = 0;
    double u = 0;
    Interval symmetric;                ///< 95 %, as much below as above (7.7)
    std::optional<Interval> shortest;  ///< 95 %; when asked for (7.7.2, note)
    std::size_t trials = 0;
    bool stable = false;  ///< twice the standard deviation of mean, u and both ends came below the tolerance
};

/// Throws std::domain_error where the model's values are not finite.
[[nodiscard]] MonteCarloResult monte_carlo(const Model& model, const MonteCarloOptions& options = {});

/// Half a unit of the last of so many significant digits of u (JCGM 101:2008, 7.9.2); 0 for u of 0.
[[nodiscard]] double tolerance_of(double u, int digits);

}  // namespace ebbtide::stats
