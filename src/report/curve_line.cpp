#include "report/curve_line.hpp"

#include <algorithm>
#include <cmath>
#include <vector>

namespace ebbtide::report {
namespace {

/// At most four points a column of half a point: first, lowest, highest, last. The line looks the same.
class ColumnThinner {
  public:
    explicit ColumnThinner(std::vector<Point>& out) : out_(out) {}
    void add(Point p) {
        const double column = std::floor(p.x * 2);
        if (held_.empty() || column != column_) {
            finish();
            column_ = column;
        }
        held_.push_back(p);
    }
    void finish() {
        if (held_.size() <= 4) {
            out_.insert(out_.end(), held_.begin(), held_.end());
        } else {
            const auto by_height = [](Point a, Point b) { return a.y < b.y; };
            const auto [low, high] = std::minmax_element(held_.begin() + 1, held_.end() - 1, by_height);
            out_.push_back(held_.front());
            out_.push_back(low < high ? *low : *high);
            out_.push_back(low < high ? *high : *low);
            out_.push_back(held_.back());
        }
        held_.clear();
    }

  private:
    std::vector<Point>& out_;
    std::vector<Point> held_;
    double column_ = 0;
};

}  // namespace

Tint tint_of(const judge::JudgedRun& run) {
    if (!run.counts) return Tint::muted;
    return run.key.polarity == plan::Polarity::positive ? Tint::positive : Tint::negative;
}

void draw_curve(Picture& picture, std::span<const double> time_s, std::span<const double> value,
                double divisor, const Scale& x, const Scale& y, Tint tint, double width, Dash dash) {
    std::vector<Point> points;
    ColumnThinner thinner(points);
    const auto end_piece = [&] {
        thinner.finish();
        if (points.size() > 1) picture.shapes.emplace_back(Polyline{points, tint, width, dash});
        points.clear();
    };
    for (std::size_t i = 0; i < std::min(time_s.size(), value.size()); ++i) {
        const double v = value[i] / divisor;
        if (x.holds(time_s[i]) && y.holds(v))
            thinner.add({x.at(time_s[i]), y.at(v)});
        else
            end_piece();
    }
    end_piece();
}

}  // namespace ebbtide::report
