#include "report/scale.hpp"

#include <algorithm>
#include <cmath>
#include <stdexcept>

#include "basis/number_text.hpp"

namespace ebbtide::report {
namespace {

std::vector<Tick> linear_ticks(double low, double high, int most) {
    const double rough = (high - low) / std::max(1, most);
    int exponent = static_cast<int>(std::floor(std::log10(rough)));
    double step = 0;
    for (const int mantissa : {1, 2, 5, 10}) {
        step = mantissa * std::pow(10.0, exponent);
        if (step >= rough * (1 - 1e-9)) {
            if (mantissa == 10) ++exponent;
            break;
        }
    }
    const int places = std::max(0, -exponent);
    std::vector<Tick> ticks;
    const double first = std::ceil(low / step - 1e-9);
    for (double i = first; i * step <= high + step * 1e-9; ++i) {
        const double value = i * step;
        ticks.push_back({value, std::abs(value) >= 1e6 || (value != 0 && places > 6)
                                    ? significant_text(value, 2)
                                    : fixed_text(value, places)});
    }
    return ticks;
}

std::vector<Tick> logarithmic_ticks(double low, double high, int most) {
    const double decades = std::log10(high / low);
    const int first = static_cast<int>(std::floor(std::log10(low)));
    const int last = static_cast<int>(std::ceil(std::log10(high)));
    const int stride = std::max(1, static_cast<int>(std::ceil(decades / std::max(1, most))));
    std::vector<int> mantissas{1};
    if (decades * 3 <= most) mantissas = {1, 2, 5};
    std::vector<Tick> ticks;
    for (int exponent = first; exponent <= last; ++exponent) {
        if (exponent % stride != 0) continue;
        for (const int mantissa : mantissas) {
            const double value = mantissa * std::pow(10.0, exponent);
            if (value < low * (1 - 1e-9) || value > high * (1 + 1e-9)) continue;
            ticks.push_back({value, exponent < -4 || exponent > 5
                                        ? significant_text(value, 1)
                                        : fixed_text(value, std::max(0, -exponent))});
        }
    }
    // Less than a decade may hold one round number, or none.
    return ticks.size() < 3 && high < 10 * low ? linear_ticks(low, high, most) : ticks;
}

}  // namespace

Scale::Scale(Kind kind, double low, double high, double from, double to)
    : kind_(kind), low_(low), high_(high), from_(from), to_(to) {
    if (!(low < high) || !std::isfinite(low) || !std::isfinite(high) ||
        (kind == Kind::logarithmic && !(low > 0)))
        throw std::invalid_argument("Scale: the range is empty or not finite");
}

double Scale::at(double value) const {
    const double share = kind_ == Kind::linear ? (value - low_) / (high_ - low_)
                                               : std::log(value / low_) / std::log(high_ / low_);
    return from_ + share * (to_ - from_);
}

std::vector<Tick> Scale::ticks(int most) const {
    return kind_ == Kind::linear ? linear_ticks(low_, high_, most) : logarithmic_ticks(low_, high_, most);
}

}  // namespace ebbtide::report
