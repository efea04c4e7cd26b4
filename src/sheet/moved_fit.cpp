#include "sheet/moved_fit.hpp"

#include <cmath>

namespace ebbtide::sheet {

std::vector<double> moved_by(const fit::Law& law, const fit::Curve& curve, const fit::Fit& fit,
                             double later_s, double higher_V) {
    fit::CurveStore other{{curve.x.begin(), curve.x.end()}, {curve.y.begin(), curve.y.end()}, {}};
    for (double& t : other.x) t += later_s;
    for (double& v : other.y) v += higher_V;
    const std::vector<double> start = fit.shape(law);
    const fit::Fit again = fit::fit_from(law, other.view(), {fit::Scatter::from_residuals}, start);
    std::vector<double> out(start.size(), 0);
    if (again.parameters.empty()) return out;
    const std::vector<double> there = again.shape(law);
    for (std::size_t k = 0; k < out.size(); ++k) out[k] = std::log(there[k] / start[k]);
    return out;
}

}  // namespace ebbtide::sheet
