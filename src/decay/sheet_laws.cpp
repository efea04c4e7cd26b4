#include "decay/sheet_laws.hpp"

#include <array>
#include <cmath>
#include <numbers>
#include <utility>

#include "lanes/exp_log.hpp"

namespace ebbtide::decay {
namespace {

using std::numbers::pi;

fit::Law one_amplitude() {
    fit::Law law;
    law.amplitudes = {"amplitude_V"};
    law.shape = {{.name = "time_constant_s"}};
    law.slopes = {{0, 0}};
    law.from_zero = true;
    return law;
}

/// A value and its slope by log T.
struct ValueAndSlope {
    double value = 0, slope = 0;
};

/// Early: the earthed edges, a distance away, have sent word to the middle only a little, once each and once
/// more for each reflection: 1 - 2 sum (-1)^k erfc((2k+1) pi / (4 sqrt(t/T))).
ValueAndSlope by_reflections(double t_over_T) {
    ValueAndSlope out{1, 0};
    double sign = 1;
    for (const int n : {1, 3, 5}) {
        const double z = n * pi / (4 * std::sqrt(t_over_T));
        if (!(z < 27)) break;  // erfc is nothing
        out.value -= 2 * sign * std::erfc(z);
        out.slope += 2 * std::numbers::inv_sqrtpi * sign * z * std::exp(-z * z);
        sign = -sign;
    }
    return out;
}

/// Late: the modes, whose exponentials are powers of the slowest one.
ValueAndSlope by_modes(double t_over_T) {
    const double q = std::exp(-t_over_T), q2 = q * q, q4 = q2 * q2, q8 = q4 * q4, q16 = q8 * q8;
    const std::array<double, 4> fall{q, q8 * q, q16 * q8 * q, q16 * q16 * q16 * q};
    ValueAndSlope out;
    double sign = 4 / pi;
    for (std::size_t k = 0; k < fall.size(); ++k) {
        const auto n = static_cast<double>(2 * k + 1);
        out.value += sign / n * fall[k];
        out.slope += sign * n * t_over_T * fall[k];
        sign = -sign;
    }
    return out;
}

}  // namespace

ModeSum backed_modes() {
    // Until then erfc(pi / (4 sqrt(from))) is 4e-16, and the series still needs but a few dozen terms.
    ModeSum out{{}, {}, 0.0185};
    double sign = 4 / pi;
    for (int n = 1; n * n * out.from < 36; n += 2) {
        out.rate.push_back(n * n);
        out.weight.push_back(sign / n * std::exp(-n * n * out.from));
        sign = -sign;
    }
    return out;
}

ModeSum hanging_modes_of(const sheet::Modes& modes) {
    return {modes.rate, modes.weight, 0};
}

std::size_t write_fall(std::span<const double> t, double rate, double gone, std::span<double> fall) {
    std::size_t count = t.size();
    while (count > 0 && rate * t[count - 1] > gone) --count;
    for (std::size_t i = 0; i < count; ++i) fall[i] = -rate * t[i];
    lanes::exp_all(fall.first(count), fall.first(count));
    return count;
}

fit::Law backed_sheet() {
    fit::Law law = one_amplitude();
    law.evaluate = [](std::span<const double> t, std::span<const double> theta, fit::Block columns,
                      fit::Block slopes) {
        for (std::size_t i = 0; i < t.size(); ++i) {
            const auto row = static_cast<Eigen::Index>(i);
            const double t_over_T = t[i] / theta[0];
            // At 0.45 three reflections and four modes both leave less than 1e-15.
            const ValueAndSlope at = t_over_T > 700    ? ValueAndSlope{}
                                     : t_over_T < 0.45 ? by_reflections(t_over_T)
                                                       : by_modes(t_over_T);
            columns(row, 0) = at.value;
            if (slopes.cols() > 0) slopes(row, 0) = at.slope;
        }
    };
    return law;
}

fit::Law hanging_sheet(const sheet::Modes& modes) {
    fit::Law law = one_amplitude();
    law.evaluate = [sum = hanging_modes_of(modes)](std::span<const double> t, std::span<const double> theta,
                                                   fit::Block columns, fit::Block slopes) {
        const std::span<double> value = fit::column_of(columns, 0);
        columns.setZero();
        slopes.setZero();
        std::vector<double> fall(t.size());
        for (std::size_t k = 0; k < sum.rate.size(); ++k) {
            const double rate = sum.rate[k] / theta[0];
            // A fast mode has gone beside the slowest.
            const std::size_t count = write_fall(t, rate, k == 0 ? 700 : 50, fall);
            for (std::size_t i = 0; i < count; ++i) value[i] += sum.weight[k] * fall[i];
            if (slopes.cols() == 0) continue;
            const std::span<double> slope = fit::column_of(slopes, 0);
            for (std::size_t i = 0; i < count; ++i) slope[i] += sum.weight[k] * fall[i] * rate * t[i];
        }
    };
    return law;
}

}  // namespace ebbtide::decay
