#include "fit/starts.hpp"

#include <algorithm>
#include <cmath>
#include <functional>
#include <limits>
#include <utility>

namespace ebbtide::fit {
namespace {

constexpr double alike_below = 0.1;  // of log time constants, from which a pair is split for another try

bool none_held(const Bounds& bounds) {
    return std::ranges::find(bounds.held, true) == bounds.held.end();
}

/// Distance from the first point to the next one with another x.
double first_interval(std::span<const double> x) {
    for (const double next : x)
        if (next > x.front()) return next - x.front();
    return 1;
}

std::vector<double> even_grid(double low, double high, double step) {
    const auto gaps = static_cast<std::size_t>(std::max(1.0, std::ceil((high - low) / step)));
    std::vector<double> out(gaps + 1);
    for (std::size_t i = 0; i <= gaps; ++i)
        out[i] = low + (high - low) * static_cast<double>(i) / static_cast<double>(gaps);
    return out;
}

/// The grid as one long list; index digits count the parameters' own grids, the first turning fastest.
class Lattice {
  public:
    explicit Lattice(const std::vector<std::vector<double>>& grid) : grid_(grid) {
        for (const auto& values : grid) size_ *= values.size();
    }
    [[nodiscard]] std::size_t size() const { return size_; }
    [[nodiscard]] std::vector<std::size_t> digits(std::size_t index) const {
        std::vector<std::size_t> out;
        for (const auto& values : grid_) {
            out.push_back(index % values.size());
            index /= values.size();
        }
        return out;
    }
    [[nodiscard]] std::vector<double> point(std::size_t index) const {
        std::vector<double> out;
        const auto at = digits(index);
        for (std::size_t k = 0; k < at.size(); ++k) out.push_back(grid_[k][at[k]]);
        return out;
    }
    /// No neighbour, diagonal ones included, lies lower; of equals the first counts.
    [[nodiscard]] bool is_valley(std::size_t index, const std::vector<double>& height) const {
        const auto at = digits(index);
        std::vector<int> offset(at.size(), -1);
        while (true) {
            std::size_t neighbour = 0, stride = 1;
            bool inside = true;
            for (std::size_t k = 0; k < at.size(); ++k) {
                const auto moved = static_cast<std::ptrdiff_t>(at[k]) + offset[k];
                if (moved < 0 || moved >= static_cast<std::ptrdiff_t>(grid_[k].size())) inside = false;
                neighbour += static_cast<std::size_t>(inside ? moved : 0) * stride;
                stride *= grid_[k].size();
            }
            if (inside && neighbour != index &&
                (height[neighbour] < height[index] ||
                 (height[neighbour] == height[index] && neighbour < index)))
                return false;
            std::size_t k = 0;
            while (k < offset.size() && offset[k] == 1) offset[k++] = -1;
            if (k == offset.size()) return true;
            ++offset[k];
        }
    }

    /// At most one grid step apart in every parameter.
    [[nodiscard]] bool near(std::size_t i, std::size_t j) const {
        const auto a = digits(i), b = digits(j);
        for (std::size_t k = 0; k < a.size(); ++k)
            if (a[k] > b[k] + 1 || b[k] > a[k] + 1) return false;
        return true;
    }

  private:
    const std::vector<std::vector<double>>& grid_;
    std::size_t size_ = 1;
};

/// Sums of squares on the lattice.
std::vector<double> heights_of(const Problem& points, const Lattice& lattice) {
    std::vector<double> out(lattice.size());
    for (std::size_t i = 0; i < out.size(); ++i)
        out[i] = projected_rss(points.reduce_columns(exponentials_of(lattice.point(i))));
    return out;
}

/// The same for columns that belong to one parameter each and are all alike: every column that the lattice
/// asks for goes into one wide triangle, so that the samples are read once. Only ascending points have a
/// height.
std::vector<double> heights_of_alike(const Problem& points, const Lattice& lattice,
                                     const std::vector<double>& values) {
    const Law& law = points.law();
    const auto shapes = static_cast<Eigen::Index>(law.shape.size());
    const auto others = static_cast<Eigen::Index>(law.amplitudes.size()) - shapes;  // an offset
    const auto count = static_cast<Eigen::Index>(values.size());
    const Eigen::Index width = count + others + 1;
    const auto rows = static_cast<Eigen::Index>(points.curve().size());
    Eigen::MatrixXd wide(rows, width);
    for (Eigen::Index from = 0; from < count; from += shapes) {
        std::vector<double> theta;
        for (Eigen::Index k = 0; k < shapes; ++k)
            theta.push_back(std::exp(values[static_cast<std::size_t>(std::min(from + k, count - 1))]));
        points.for_each_block(theta, false, [&](Block block, std::size_t first) {
            auto into = wide.middleRows(static_cast<Eigen::Index>(first), block.rows());
            const Eigen::Index taken = std::min(shapes, count - from);
            into.middleCols(from, taken) = block.leftCols(taken);
            into.rightCols(others + 1) = block.rightCols(others + 1);
        });
    }
    // Before zero a short time constant makes giants of its column, or no number at all: one such would spoil
    // the others.
    for (Eigen::Index j = 0; j < width; ++j) {
        const double largest = wide.col(j).cwiseAbs().maxCoeff();
        if (!wide.col(j).allFinite())
            wide.col(j).setZero();
        else if (largest > 0)
            wide.col(j) /= largest;
    }
    Eigen::MatrixXd triangle = Eigen::MatrixXd::Zero(width, width);
    absorb(triangle, wide);

    std::vector<double> out(lattice.size(), std::numeric_limits<double>::infinity());
    Eigen::MatrixXd chosen(width, shapes + others + 1);
    Small small(chosen.cols(), chosen.cols());
    for (std::size_t i = 0; i < out.size(); ++i) {
        const auto at = lattice.digits(i);
        if (std::ranges::adjacent_find(at, std::greater_equal{}) != at.end()) continue;
        const auto longest = std::min(rows, width);
        for (Eigen::Index k = 0; k < shapes; ++k)
            chosen.col(k) = triangle.col(static_cast<Eigen::Index>(at[static_cast<std::size_t>(k)]));
        chosen.rightCols(others + 1) = triangle.rightCols(others + 1);
        small.setZero();
        absorb(small, chosen.topRows(longest));
        out[i] = projected_rss(small);
    }
    return out;
}

}  // namespace

SearchRange search_range(const Problem& problem, const std::vector<std::optional<double>>& held) {
    SearchRange out;
    const auto& x = problem.curve().x;
    const double low = std::log(0.2 * first_interval(x) / problem.x_unit());
    const double high = std::log(30 * std::max(std::abs(x.front()), std::abs(x.back())) / problem.x_unit());
    // A factor of 1.4 to 1.6 between neighbours: a valley in log time constant is about that wide.
    const double step = problem.law().shape.size() > 2 ? 0.5 : 0.35;
    // Time constants that run away leave a polynomial behind whose amplitudes grow with them: farther out,
    // its terms drown in their own rounding.
    const double beyond = std::log(200);
    for (std::size_t k = 0; k < problem.law().shape.size(); ++k) {
        const ShapeParameter& parameter = problem.law().shape[k];
        const double unit = parameter.scales_with_x ? problem.x_unit() : 1;
        if (k < held.size() && held[k]) {
            const double value = std::log(*held[k] / unit);
            out.grid.push_back({value});
            out.bounds.low.push_back(value);
            out.bounds.high.push_back(value);
            out.bounds.held.push_back(true);
            continue;
        }
        const double lowest = parameter.lowest > 0 ? std::log(parameter.lowest / unit) : low - beyond;
        const double from = std::max(low, lowest);
        out.grid.push_back(parameter.scales_with_x
                               ? even_grid(from, std::max(high, from + step), step)
                               : even_grid(std::log(parameter.grid_low), std::log(parameter.grid_high), 0.4));
        out.bounds.low.push_back(parameter.scales_with_x ? std::max(low - beyond, lowest) : lowest);
        out.bounds.high.push_back(parameter.scales_with_x ? high + beyond : std::log(parameter.highest));
        out.bounds.held.push_back(false);
    }
    return out;
}

std::vector<std::vector<double>> valleys(const Problem& points, const SearchRange& range, std::size_t least,
                                         std::size_t most) {
    const Law& law = points.law();
    const Lattice lattice(range.grid);
    const std::vector<double> height = law.interchangeable && none_held(range.bounds)
                                           ? heights_of_alike(points, lattice, range.grid.front())
                                           : heights_of(points, lattice);
    std::vector<std::size_t> order;
    for (std::size_t i = 0; i < lattice.size(); ++i)
        if (std::isfinite(height[i])) order.push_back(i);
    std::ranges::stable_sort(order, {}, [&](std::size_t i) { return height[i]; });
    std::vector<std::size_t> chosen;
    for (const std::size_t i : order)
        if (chosen.size() < most && lattice.is_valley(i, height)) chosen.push_back(i);
    for (const std::size_t i : order)
        if (chosen.size() < least &&
            std::ranges::none_of(chosen, [&](std::size_t c) { return lattice.near(i, c); }))
            chosen.push_back(i);
    std::vector<std::vector<double>> out;
    for (const std::size_t i : chosen) out.push_back(lattice.point(i));
    return out;
}

std::vector<std::vector<double>> sweep(const Problem& points, const std::vector<double>& log_theta,
                                       std::size_t k, const SearchRange& range) {
    std::vector<std::vector<double>> out;
    const std::vector<double>& grid = range.grid[k];
    if (grid.size() < 2) return out;
    std::vector<double> height;
    std::vector<double> logs(log_theta);
    for (const double value : grid) {
        logs[k] = value;
        height.push_back(projected_rss(points.reduce_columns(exponentials_of(logs))));
    }
    for (std::size_t i = 0; i < grid.size(); ++i) {
        if (!std::isfinite(height[i]) || (i > 0 && height[i] > height[i - 1]) ||
            (i + 1 < grid.size() && height[i] >= height[i + 1]))
            continue;
        logs[k] = grid[i];
        out.push_back(logs);
    }
    return out;
}

std::vector<std::vector<double>> replacements(const Problem& points, const std::vector<double>& log_theta,
                                              const SearchRange& range, int most_evaluations) {
    std::vector<std::vector<double>> out;
    const Law& law = points.law();
    for (std::size_t k = 0; k < log_theta.size(); ++k) {
        std::vector<double> from(log_theta);
        if (law.interchangeable) {
            Bounds without = range.bounds;
            without.held[k] = true;
            without.held_amplitudes.resize(law.amplitudes.size());
            without.held_amplitudes[k] = 0;
            const Descent rest = descend(points, log_theta, without, most_evaluations);
            if (rest.at.usable) from = rest.log_theta;
        }
        for (auto& start : sweep(points, from, k, range)) out.push_back(std::move(start));
    }
    return out;
}

std::vector<std::vector<double>> splits(const Law& law, const std::vector<double>& log_theta,
                                        const Bounds& bounds) {
    std::vector<std::vector<double>> out;
    if (!law.interchangeable || !none_held(bounds)) return out;
    std::vector<double> ascending(log_theta);
    std::ranges::sort(ascending);
    for (std::size_t k = 0; k + 1 < ascending.size(); ++k) {
        if (ascending[k + 1] - ascending[k] > alike_below) continue;
        const double middle = (ascending[k] + ascending[k + 1]) / 2;
        // Evenly, and with one of the two staying near the meeting, which it does when the other is small.
        for (const auto& [down, up] : {std::pair{0.2, 0.2}, {0.5, 0.5}, {1.2, 1.2}, {1.8, 0.3}, {0.3, 1.8}}) {
            std::vector<double> start(ascending);
            start[k] = std::max(middle - down, bounds.low[k]);
            start[k + 1] = std::min(middle + up, bounds.high[k + 1]);
            out.push_back(start);
        }
        // Or the pair belongs elsewhere.
        for (const double shift : {-0.7, 0.7}) {
            std::vector<double> start(ascending);
            start[k] = std::clamp(middle + shift - 0.1, bounds.low[k], bounds.high[k]);
            start[k + 1] = std::clamp(middle + shift + 0.1, bounds.low[k + 1], bounds.high[k + 1]);
            out.push_back(start);
        }
    }
    return out;
}

}  // namespace ebbtide::fit
