#include "fit/law.hpp"

#include <utility>

namespace ebbtide::fit {

Law with_free_offset(Law law, std::string offset_name) {
    const auto inner_columns = static_cast<Eigen::Index>(law.amplitudes.size());
    law.amplitudes.push_back(std::move(offset_name));
    law.evaluate = [inner = std::move(law.evaluate), inner_columns](std::span<const double> x,
                                                                    std::span<const double> theta,
                                                                    Block columns, Block slopes) {
        inner(x, theta, columns.leftCols(inner_columns), slopes);
        columns.col(inner_columns).setOnes();
    };
    return law;
}

Law with_offset_minus_amplitude(Law law) {
    law.form = Form::other;
    law.evaluate = [inner = std::move(law.evaluate)](std::span<const double> x, std::span<const double> theta,
                                                     Block columns, Block slopes) {
        inner(x, theta, columns, slopes);
        columns.array() -= 1;
    };
    return law;
}

std::vector<double> values_of(const Law& law, std::span<const double> amplitudes,
                              std::span<const double> theta, std::span<const double> x) {
    const auto rows = static_cast<Eigen::Index>(x.size());
    Eigen::MatrixXd columns(rows, static_cast<Eigen::Index>(law.amplitudes.size()));
    Eigen::MatrixXd none(rows, 0);
    law.evaluate(x, theta, columns, none);
    const Eigen::Map<const Eigen::VectorXd> a(amplitudes.data(),
                                              static_cast<Eigen::Index>(amplitudes.size()));
    std::vector<double> values(x.size());
    Eigen::Map<Eigen::VectorXd>(values.data(), rows) = (columns * a).array() + law.constant;
    return values;
}

}  // namespace ebbtide::fit
