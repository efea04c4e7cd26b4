#include "decay/local_fall.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "decay/local_parabola.hpp"

namespace ebbtide::decay {
namespace {

constexpr std::size_t blocks_a_stretch = 32;
constexpr int even_steps = 16, most_steps = 80;  // on either side
constexpr double longer = 1.15;                  // each step after the even ones

trace::SampleStore block_means(const trace::Samples& fall, std::size_t width) {
    trace::SampleStore out;
    const double n = static_cast<double>(width);
    for (std::size_t first = 0; first + width <= fall.size(); first += width) {
        double time_s = 0, value = 0;
        for (std::size_t i = first; i < first + width; ++i) {
            time_s += fall.time_s[i];
            value += fall.value[i];
        }
        out.time_s.push_back(time_s / n);
        out.value.push_back(value / n);
    }
    return out;
}

struct Point {
    double time_s = 0, value_V = 0, weight = 1;
};

/// The fall near a crossing, at any time.
class Smoothed {
  public:
    Smoothed(const trace::Samples& fall, const Crossing& crossing, double level_V)
        : crossing_(crossing), level_V_(level_V), fall_(fall) {
        const std::size_t width = (crossing.last - crossing.first) / blocks_a_stretch;
        if (width > 1) {
            store_ = block_means(fall, width);
            fall_ = store_.view();
        }
        reach_s_ = 0.5 * (fall.time_s[crossing.last - 1] - fall.time_s[crossing.first]);
        // Between two places the noise of both counts.
        u_V_ = -crossing.slope_V_s * crossing.u_noise_s * std::numbers::sqrt2;
        if (const auto here = seen(crossing.time_s)) off_V_ = level_V - *here;
    }
    Smoothed(const Smoothed&) = delete;
    Smoothed& operator=(const Smoothed&) = delete;

    [[nodiscard]] double first_s() const { return fall_.time_s.front(); }
    [[nodiscard]] double last_s() const { return fall_.time_s.back(); }

    [[nodiscard]] std::optional<double> at(double time_s) const {
        const auto parabola = seen(time_s);
        if (!parabola) return {};
        const double line_V = crossing_.slope_V_s * (time_s - crossing_.time_s);
        const double exponential_V = level_V_ * std::expm1(line_V / level_V_);
        const double bend_V = std::abs(exponential_V - line_V);
        const double open = u_V_ * u_V_, told = bend_V * bend_V;
        if (!(open + told > 0)) return parabola;
        return level_V_ + ((*parabola + off_V_ - level_V_) * told + exponential_V * open) / (open + told);
    }

  private:
    [[nodiscard]] std::optional<double> seen(double time_s) const {
        const std::size_t here = fall_.at_or_after(time_s);
        const std::size_t first = std::min(fall_.at_or_after(time_s - reach_s_), here > 2 ? here - 2 : 0);
        const std::size_t last =
            std::max(fall_.at_or_after(time_s + reach_s_), std::min(here + 2, fall_.size()));
        const auto fit = fit_local_parabola(fall_.slice(first, last), time_s);
        if (!fit) return {};
        return fit->value;
    }

    const Crossing& crossing_;
    double level_V_;
    trace::Samples fall_;
    trace::SampleStore store_;
    double reach_s_ = 0, u_V_ = 0, off_V_ = 0;
};

/// Averages neighbours until every point lies lower than the one before (isotonic regression by pooling
/// adjacent violators).
std::vector<Point> falling(const std::vector<Point>& points) {
    std::vector<Point> out;
    for (Point point : points) {
        while (!out.empty() && out.back().value_V <= point.value_V) {
            const Point& before = out.back();
            const double weight = before.weight + point.weight, share = point.weight / weight;
            point = {before.time_s + share * (point.time_s - before.time_s),
                     before.value_V + share * (point.value_V - before.value_V), weight};
            out.pop_back();
        }
        out.push_back(point);
    }
    return out;
}

/// From the crossing on (direction 1) or back (-1), until reach_V is covered or the record ends.
std::vector<Point> walk(const Smoothed& fall, const Crossing& crossing, double level_V, double reach_V,
                        double direction) {
    std::vector<Point> points;
    double step_s = -reach_V / crossing.slope_V_s / even_steps, time_s = crossing.time_s;
    const double end_s = direction > 0 ? fall.last_s() : fall.first_s();
    for (int step = 0; step < most_steps && direction * (end_s - time_s) > 0; ++step) {
        if (step >= even_steps) step_s *= longer;
        time_s += direction * std::min(step_s, direction * (end_s - time_s));
        const auto value_V = fall.at(time_s);
        if (!value_V) break;
        points.push_back({time_s, *value_V});
        if (direction * (level_V - *value_V) >= reach_V) break;
    }
    return points;
}

}  // namespace

LocalFall local_fall_of(const trace::Samples& fall, const Crossing& crossing, double level_V, double reach_V,
                        double usable_from_s, double shift_s) {
    LocalFall out;
    const std::size_t usable = std::min(fall.at_or_after(usable_from_s), crossing.first);
    if (!(reach_V > 0)) return out;
    Crossing moved = crossing;
    moved.first -= usable;
    moved.last -= usable;
    const Smoothed smoothed(fall.slice(usable, fall.size()), moved, level_V);
    std::vector<Point> before = walk(smoothed, crossing, level_V, reach_V, -1),
                       after = walk(smoothed, crossing, level_V, reach_V, 1);
    std::ranges::reverse(before);
    before = falling(before);
    after = falling(after);
    std::erase_if(before, [&](const Point& p) { return p.value_V <= level_V; });
    std::erase_if(after, [&](const Point& p) { return p.value_V >= level_V; });
    const auto add = [&](const Point& point) {
        out.offset_V.push_back(point.value_V - level_V);
        out.time_s.push_back(point.time_s - shift_s);
    };
    std::ranges::for_each(after.rbegin(), after.rend(), add);
    add({crossing.time_s, level_V});
    std::ranges::for_each(before.rbegin(), before.rend(), add);
    if (out.offset_V.size() < 3) return {};
    return out;
}

}  // namespace ebbtide::decay
