#include "fit/starts.hpp"

#include <algorithm>
#include <cmath>
#include <functional>
#include <limits>

namespace ebbtide::fit {
namespace {

constexpr double beyond_grid = 1e3;

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

  private:
    const std::vector<std::vector<double>>& grid_;
    std::size_t size_ = 1;
};

}  // namespace

SearchRange search_range(const Problem& problem, const std::vector<std::optional<double>>& held) {
    SearchRange out;
    const auto& x = problem.curve().x;
    const double low = std::log(0.2 * first_interval(x) / problem.x_unit());
    const double high = std::log(30 * std::max(std::abs(x.front()), std::abs(x.back())) / problem.x_unit());
    // A factor of 1.6 to 2 between neighbours: a valley in log time constant is about that wide, and a finer
    // grid of three dimensions would cost more than the descents.
    const double step = problem.law().shape.size() > 2 ? 0.7 : 0.5;
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
        out.grid.push_back(parameter.scales_with_x
                               ? even_grid(low, std::max(high, low + step), step)
                               : even_grid(std::log(parameter.grid_low), std::log(parameter.grid_high), 0.4));
        out.bounds.low.push_back(parameter.scales_with_x ? low - std::log(beyond_grid)
                                                         : std::log(parameter.lowest));
        out.bounds.high.push_back(parameter.scales_with_x ? high + std::log(beyond_grid)
                                                          : std::log(parameter.highest));
        out.bounds.held.push_back(false);
    }
    return out;
}

std::vector<std::vector<double>> valleys(const Problem& points, const SearchRange& range, std::size_t most) {
    const Law& law = points.law();
    const Lattice lattice(range.grid);
    std::vector<double> height(lattice.size(), std::numeric_limits<double>::infinity());
    std::vector<double> theta(law.shape.size());
    const bool alike =
        law.interchangeable && std::ranges::find(range.bounds.held, true) == range.bounds.held.end();
    for (std::size_t i = 0; i < lattice.size(); ++i) {
        const auto logs = lattice.point(i);
        if (alike && std::ranges::adjacent_find(logs, std::greater_equal{}) != logs.end()) continue;
        std::ranges::transform(logs, theta.begin(), [](double l) { return std::exp(l); });
        height[i] = projected_rss(points.reduce_columns(theta));
    }
    std::vector<std::size_t> found;
    for (std::size_t i = 0; i < lattice.size(); ++i)
        if (std::isfinite(height[i]) && lattice.is_valley(i, height)) found.push_back(i);
    std::ranges::stable_sort(found, {}, [&](std::size_t i) { return height[i]; });
    if (found.size() > most) found.resize(most);
    std::vector<std::vector<double>> out;
    for (const std::size_t i : found) out.push_back(lattice.point(i));
    return out;
}

}  // namespace ebbtide::fit
