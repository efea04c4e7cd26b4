#include "sheet/standard_fall.hpp"

#include <algorithm>
#include <cmath>

#include "sheet/moved_fit.hpp"

namespace ebbtide::sheet {
namespace {

StandardFall no_fall(std::string reason) {
    StandardFall out;
    out.reason = std::move(reason);
    return out;
}

}  // namespace

StandardFall standard_fall(const SeenFall& fall) {
    if (fall.curve.size() < 8 || !(fall.held_V > 0)) return no_fall("there is no fall from a hold");
    // What went with the clamps was no part of the mode: from the amplitude that is left, and again with it.
    double drop = 0;
    fit::Law law;
    fit::Fit found;
    for (int round = 0; round < 4; ++round) {
        law = linear_fall({{1}, {1 - drop}, drop}, fall.between);
        found = fit::fit(law, fall.curve, {fit::Scatter::correlated_residuals});
        if (!found.ok()) return no_fall(found.reason);
        drop = std::clamp(1 - found.parameters.front().value * (1 - drop) / fall.held_V, 0.0, 0.9);
    }
    const fit::Parameter& T = found.parameters.back();
    if (T.standing != fit::Standing::free || !T.standard_error)
        return no_fall("the time constant is not determined");
    StandardFall out;
    out.time_constant_s = T.value;
    out.prompt_drop = drop;
    out.u_noise = *T.standard_error / T.value;
    const double delay_s = std::hypot(fall.u_release_s, fall.u_lag_s);
    if (delay_s > 0) out.u_delay = std::abs(moved_by(law, fall.curve, found, delay_s, 0)[0]);
    if (fall.u_zero_V > 0) out.u_zero = std::abs(moved_by(law, fall.curve, found, 0, fall.u_zero_V)[0]);
    out.u_relative = std::hypot(out.u_noise, out.u_delay, out.u_zero);
    return out;
}

}  // namespace ebbtide::sheet
