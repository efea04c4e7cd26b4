#pragma once
// Axes: from a quantity to a place on paper, and the round numbers to write beside it.

#include <string>
#include <vector>

namespace ebbtide::report {

struct Tick {
    double value = 0;
    std::string text;
};

/// A linear or logarithmic map from [low, high] to [from, to] (points). Requires low < high, and low > 0 when
/// logarithmic.
class Scale {
  public:
    enum class Kind { linear, logarithmic };
    Scale(Kind kind, double low, double high, double from, double to);

    [[nodiscard]] double at(double value) const;
    [[nodiscard]] double low() const { return low_; }
    [[nodiscard]] double high() const { return high_; }
    [[nodiscard]] bool holds(double value) const { return value >= low_ && value <= high_; }
    [[nodiscard]] double clamped(double value) const {
        return value < low_ ? low_ : value > high_ ? high_ : value;
    }

    /// Steps of 1, 2 or 5 times a power of ten, at most `most` of them, all with the same number of places;
    /// decades on a logarithmic scale, with 2 and 5 between when they are few, and even steps where even
    /// these would be fewer than three in less than a decade.
    [[nodiscard]] std::vector<Tick> ticks(int most) const;

  private:
    Kind kind_;
    double low_, high_, from_, to_;
};

}  // namespace ebbtide::report
