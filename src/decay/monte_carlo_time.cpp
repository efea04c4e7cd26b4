#include "decay/monte_carlo_time.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include "lanes/random.hpp"
#include "stats/monte_carlo.hpp"

namespace ebbtide::decay {
namespace {

constexpr double settles_from = 5;  // degrees of freedom: the fourth moment is finite

/// The time at which the fall passes a level: a monotone cubic through the table, laid out on even steps so
/// that a trial is one look-up.
class TimeOfLevel {
  public:
    explicit TimeOfLevel(const LocalFall& fall)
        : first_V_(fall.offset_V.front()),
          per_V_(cells / (fall.offset_V.back() - fall.offset_V.front())),
          time_s_(cells + 1) {
        const std::vector<double> slope = slopes(fall);
        std::size_t k = 0;
        for (std::size_t i = 0; i <= cells; ++i) {
            const double at_V = first_V_ + static_cast<double>(i) / per_V_;
            while (k + 2 < fall.offset_V.size() && at_V > fall.offset_V[k + 1]) ++k;
            const double width = fall.offset_V[k + 1] - fall.offset_V[k];
            const double x = std::clamp((at_V - fall.offset_V[k]) / width, 0.0, 1.0), y = 1 - x;
            time_s_[i] = (1 + 2 * x) * y * y * fall.time_s[k] + x * x * (3 - 2 * x) * fall.time_s[k + 1] +
                         width * x * y * (y * slope[k] - x * slope[k + 1]);
        }
    }

    /// Seconds per volt at the level asked for.
    [[nodiscard]] double slope() const {
        const double step_V = 1 / per_V_;
        return (at(step_V) - at(-step_V)) / (2 * step_V);
    }
    [[nodiscard]] double at(double offset_V) const {
        const double place = (offset_V - first_V_) * per_V_;
        const auto cell = static_cast<std::size_t>(std::clamp(place, 0.0, cells - 1.0));
        const double share = place - static_cast<double>(cell);
        return time_s_[cell] + share * (time_s_[cell + 1] - time_s_[cell]);
    }
    [[nodiscard]] bool knows(double offset_V) const {
        const double place = (offset_V - first_V_) * per_V_;
        return place >= 0 && place <= cells;
    }

  private:
    static constexpr std::size_t cells = 2048;

    /// Harmonic means of the neighbouring chords: the cubic then never turns back (F. N. Fritsch and J.
    /// Butland, SIAM J. Sci. Stat. Comput. 5, 300, 1984).
    static std::vector<double> slopes(const LocalFall& fall) {
        const std::size_t n = fall.offset_V.size();
        std::vector<double> chord(n - 1), slope(n);
        for (std::size_t i = 0; i + 1 < n; ++i)
            chord[i] = (fall.time_s[i + 1] - fall.time_s[i]) / (fall.offset_V[i + 1] - fall.offset_V[i]);
        slope.front() = chord.front();
        slope.back() = chord.back();
        for (std::size_t i = 1; i + 1 < n; ++i) {
            const double before = fall.offset_V[i] - fall.offset_V[i - 1],
                         after = fall.offset_V[i + 1] - fall.offset_V[i];
            const double share = (before + 2 * after) / (3 * (before + after));
            slope[i] = chord[i - 1] * chord[i] / (share * chord[i] + (1 - share) * chord[i - 1]);
        }
        return slope;
    }

    double first_V_, per_V_;
    std::vector<double> time_s_;
};

/// An independent draw, and what it does to the level and to the time.
struct Source {
    lanes::Stream stream;
    std::optional<double> degrees_of_freedom;
    double level_V = 0, time_s = 0;

    void add(std::uint64_t first, double scale, std::span<double> sum) const {
        if (scale == 0) return;
        if (degrees_of_freedom)
            lanes::add_students_t(stream, first, *degrees_of_freedom, scale, sum);
        else
            lanes::add_normal(stream, first, scale, sum);
    }
};

/// FNV-1a, so that a line draws the same numbers wherever it stands.
std::uint64_t purpose_of(std::string_view source) {
    std::uint64_t hash = 0xcbf29ce484222325u;
    for (const char c : source) hash = (hash ^ static_cast<unsigned char>(c)) * 0x100000001b3u;
    return hash;
}

std::vector<Contribution> drawn_lines(std::span<const Contribution> budget, bool fall_known) {
    std::vector<Contribution> lines;
    for (const Contribution& line : budget)
        if (line.u_s() > 0 && !(fall_known && line.source == second_order_line)) lines.push_back(line);
    std::ranges::stable_sort(lines, {}, &Contribution::source);
    return lines;
}

/// Lower triangle of the correlation matrix: line i draws sum over j of row i, column j. Coefficients that
/// contradict each other are followed as far as they go.
std::vector<std::vector<double>> triangle_of(std::span<const Contribution> lines) {
    const std::size_t n = lines.size();
    std::vector<std::vector<double>> r(n, std::vector<double>(n, 0.0)), lower = r;
    for (std::size_t i = 0; i < n; ++i) {
        const auto partner = std::ranges::find(lines, lines[i].correlated_with, &Contribution::source);
        const auto j = static_cast<std::size_t>(partner - lines.begin());
        if (j < n && j != i) r[std::max(i, j)][std::min(i, j)] = std::clamp(lines[i].correlation, -1.0, 1.0);
    }
    for (std::size_t i = 0; i < n; ++i) {
        double left = 1;
        for (std::size_t j = 0; j < i; ++j) {
            double sum = r[i][j];
            for (std::size_t k = 0; k < j; ++k) sum -= lower[i][k] * lower[j][k];
            const double most = std::sqrt(left);
            lower[i][j] = lower[j][j] > 0 ? std::clamp(sum / lower[j][j], -most, most) : 0;
            left = std::max(0.0, left - lower[i][j] * lower[i][j]);
        }
        lower[i][i] = left > 1e-12 ? std::sqrt(left) : 0;
    }
    return lower;
}

std::vector<Source> sources_of(std::span<const Contribution> lines, const std::optional<TimeOfLevel>& fall,
                               std::uint64_t seed) {
    std::vector<Source> sources(lines.size());
    const auto triangle = triangle_of(lines);
    for (std::size_t i = 0; i < lines.size(); ++i) {
        const Contribution& line = lines[i];
        const bool same_as_before = i > 0 && lines[i - 1].source == line.source;
        sources[i].stream = {seed,
                             same_as_before ? sources[i - 1].stream.purpose + 1 : purpose_of(line.source)};
        if (line.degrees_of_freedom) sources[i].degrees_of_freedom = std::max(1.0, *line.degrees_of_freedom);
        const double signed_s = line.u * line.sensitivity;
        for (std::size_t j = 0; j <= i; ++j) {
            if (fall && line.unit == "V")
                sources[j].level_V += triangle[i][j] * signed_s / fall->slope();
            else
                sources[j].time_s += triangle[i][j] * signed_s;
        }
    }
    return sources;
}

}  // namespace

MonteCarloTime monte_carlo_time(double decay_s, double expanded_u_s, std::span<const Contribution> budget,
                                const LocalFall& fall, std::uint64_t seed) {
    std::optional<TimeOfLevel> time_of;
    if (fall.offset_V.size() >= 2) time_of.emplace(fall);
    const std::vector<Contribution> lines = drawn_lines(budget, time_of.has_value());
    if (lines.empty()) return {decay_s, 0, decay_s, decay_s, 0, true, true, 0};
    const std::vector<Source> sources = sources_of(lines, time_of, seed);

    std::size_t beyond = 0;
    const auto model = [&](std::uint64_t first, std::span<double> time_s) {
        if (first == 0) beyond = 0;
        for (const Source& source : sources) source.add(first, source.time_s, time_s);
        if (!time_of) {
            for (double& t : time_s) t += decay_s;
            return;
        }
        std::vector<double> level_V(time_s.size());
        for (const Source& source : sources) source.add(first, source.level_V, level_V);
        for (std::size_t i = 0; i < time_s.size(); ++i) {
            time_s[i] += time_of->at(level_V[i]);
            beyond += !time_of->knows(level_V[i]);
        }
    };
    stats::MonteCarloOptions options;
    options.most_trials = 5'000'000;  // Student's t with two degrees of freedom takes three
    options.heavy_tails = std::ranges::any_of(lines, [](const Contribution& line) {
        return line.degrees_of_freedom && *line.degrees_of_freedom < settles_from;
    });
    const stats::MonteCarloResult drawn = stats::monte_carlo(model, options);

    MonteCarloTime out;
    out.mean_s = drawn.mean;
    out.u_s = drawn.u;
    out.low_s = drawn.symmetric.low;
    out.high_s = drawn.symmetric.high;
    out.trials = drawn.trials;
    out.stable = drawn.stable;
    const double tolerance_s = std::max(stats::tolerance_of(drawn.u, 1), 0.05 * expanded_u_s);
    out.agrees = std::abs(decay_s - expanded_u_s - out.low_s) <= tolerance_s &&
                 std::abs(decay_s + expanded_u_s - out.high_s) <= tolerance_s;
    out.beyond = static_cast<double>(beyond) / static_cast<double>(drawn.trials);
    return out;
}

}  // namespace ebbtide::decay
