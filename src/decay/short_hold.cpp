#include "decay/short_hold.hpp"

#include <utility>
#include <vector>

namespace ebbtide::decay {

fit::Law after_short_hold(fit::Law law, double hold_s) {
    law.keeps_x = true;
    law.evaluate = [inner = std::move(law.evaluate), hold_s](std::span<const double> t,
                                                             std::span<const double> theta,
                                                             fit::Block columns, fit::Block slopes) {
        inner(t, theta, columns, slopes);
        std::vector<double> later(t.begin(), t.end());
        for (double& time : later) time += hold_s;
        Eigen::MatrixXd later_columns(columns.rows(), columns.cols());
        Eigen::MatrixXd later_slopes(slopes.rows(), slopes.cols());
        inner(later, theta, later_columns, later_slopes);
        columns -= later_columns;
        slopes -= later_slopes;
    };
    return law;
}

}  // namespace ebbtide::decay
