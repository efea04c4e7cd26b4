#pragma once
// The laws as the compiled peers see them: residuals and slopes over whole arrays, so that a build for the
// machine makes the most of its vectors. Time constants and exponent are searched for by their logarithms.

#include <Eigen/Core>

namespace ebbtide::speed {

using Array = Eigen::ArrayXd;

/// p: log T1, log T2, amplitude 1, amplitude 2, offset.
struct TwoExponentials {
    static constexpr int parameters = 5;
    const Array x;
    Array first, second;

    explicit TwoExponentials(const Array& times) : x(times), first(times.size()), second(times.size()) {}

    [[nodiscard]] Eigen::Index size() const { return x.size(); }

    /// `slopes`: one column a parameter, or null.
    template <class Slopes>
    void operator()(const double* p, const double* y, double* residual, Slopes* slopes) {
        const double rate_1 = std::exp(-p[0]), rate_2 = std::exp(-p[1]);
        first = (x * -rate_1).exp();
        second = (x * -rate_2).exp();
        Eigen::Map<Array>(residual, x.size()) =
            p[2] * first + p[3] * second + p[4] - Eigen::Map<const Array>(y, x.size());
        if (!slopes) return;
        slopes->col(0).array() = first * x * (p[2] * rate_1);
        slopes->col(1).array() = second * x * (p[3] * rate_2);
        slopes->col(2).array() = first;
        slopes->col(3).array() = second;
        slopes->col(4).setOnes();
    }
};

/// p: log T, log exponent, amplitude.
struct Stretched {
    static constexpr int parameters = 3;
    Array log_x, power, column;

    explicit Stretched(const Array& times)
        : log_x(times.max(1e-300).log()), power(times.size()), column(times.size()) {}
    [[nodiscard]] Eigen::Index size() const { return log_x.size(); }

    template <class Slopes>
    void operator()(const double* p, const double* y, double* residual, Slopes* slopes) {
        const double exponent = std::exp(p[1]);
        power = ((log_x - p[0]) * exponent).exp();
        column = (-power).exp();
        Eigen::Map<Array>(residual, log_x.size()) = p[2] * column - Eigen::Map<const Array>(y, log_x.size());
        if (!slopes) return;
        slopes->col(0).array() = column * power * (p[2] * exponent);
        slopes->col(1).array() = column * power * (log_x - p[0]) * (-p[2] * exponent);
        slopes->col(2).array() = column;
    }
};

}  // namespace ebbtide::speed
