#include "cli/residual_strip.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <vector>

#include "basis/number_text.hpp"
#include "report/residual_plot.hpp"

namespace ebbtide::cli {
namespace {

// Above and below zero alike: the middle line of an odd number of rows of four dots.
constexpr int columns = 64, rows = 5, dots_across = 2 * columns, dots_down = 4 * rows;
constexpr std::size_t margin = 8;

/// A sheet of dots, eight to a character (Unicode, block 2800).
class Dots {
  public:
    void set(int x, int y) {
        if (x < 0 || x >= dots_across || y < 0 || y >= dots_down) return;
        constexpr unsigned bits[4][2] = {{0x01, 0x08}, {0x02, 0x10}, {0x04, 0x20}, {0x40, 0x80}};
        cells_[static_cast<std::size_t>(y / 4 * columns + x / 2)] |= bits[y % 4][x % 2];
    }
    [[nodiscard]] std::string row(int index) const {
        std::string out;
        for (int x = 0; x < columns; ++x) {
            const unsigned code = 0x2800u + cells_[static_cast<std::size_t>(index * columns + x)];
            out += static_cast<char>(0xE0u | (code >> 12));
            out += static_cast<char>(0x80u | ((code >> 6) & 0x3Fu));
            out += static_cast<char>(0x80u | (code & 0x3Fu));
        }
        return out;
    }

  private:
    std::vector<unsigned> cells_ = std::vector<unsigned>(static_cast<std::size_t>(columns) * rows, 0);
};

std::string at_right(const std::string& text) {
    return std::string(margin - std::min(margin, text.size()), ' ') + text;
}

}  // namespace

std::string residual_strip(const decay::LawFigures& law) {
    if (law.residuals.empty()) return "";
    double top = 4;  // of the scale, in units of the noise
    for (const decay::ResidualPoint& point : law.residuals)
        if (point.u_V > 0) top = std::max(top, std::ceil(std::abs(point.residual_V) / point.u_V));
    const auto dot_of = [&](double scaled) {
        return static_cast<int>(std::lround((1 - scaled / top) / 2 * (dots_down - 1)));
    };
    const bool decades = report::wants_decades(law.residuals);
    const double first_s = law.residuals.front().time_s, last_s = law.residuals.back().time_s;
    const auto share_of = [&](double time_s) {
        if (!(last_s > first_s)) return 0.0;
        return decades ? std::log(time_s / first_s) / std::log(last_s / first_s)
                       : (time_s - first_s) / (last_s - first_s);
    };
    Dots dots;
    for (int x = 0; x < dots_across; x += 4)
        for (const double band : {-2.0, 2.0}) dots.set(x, dot_of(band));
    for (const decay::ResidualPoint& point : law.residuals) {
        if (!(point.u_V > 0)) continue;
        const int x = static_cast<int>(std::lround(share_of(point.time_s) * (dots_across - 1)));
        const int y = dot_of(point.residual_V / point.u_V), zero = dot_of(0);
        for (int step = std::min(y, zero); step <= std::max(y, zero); ++step) dots.set(x, step);
    }
    std::string out;
    for (int row = 0; row < rows; ++row) {
        const std::string label = row == 0          ? "+" + fixed_text(top, 0)
                                  : row == rows / 2 ? "0"
                                  : row == rows - 1 ? "-" + fixed_text(top, 0)
                                                    : "";
        out += at_right(label) + " " + dots.row(row) + "\n";
    }
    const std::string from = significant_text(first_s, 3) + " s", to = significant_text(last_s, 3) + " s";
    const std::string between = decades ? "logarithmic" : "";
    const std::size_t room = columns - from.size() - to.size() - between.size();
    return out + std::string(margin + 1, ' ') + from + std::string(room / 2, ' ') + between +
           std::string(room - room / 2, ' ') + to + "\n";
}

}  // namespace ebbtide::cli
