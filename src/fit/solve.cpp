#include "fit/solve.hpp"

#include <cmath>

#include "fit/admission.hpp"
#include "fit/even_exponentials.hpp"
#include "fit/even_stretched.hpp"
#include "fit/search.hpp"

namespace ebbtide::fit {
namespace {

Solution solve_quickly(const Law& law, const Curve& curve) {
    Solution out;
    const std::size_t parts = law.shape.size();
    if (law.form == Form::exponentials && parts >= 1 && parts <= 3) {
        const bool with_offset = law.amplitudes.size() > parts;
        const auto found = fit_even_exponentials(curve, parts, with_offset, law.constant);
        if (!found) return out;
        out.rss = found->rss;
        const auto count = static_cast<std::ptrdiff_t>(parts);
        out.amplitudes.assign(found->amplitude.begin(), found->amplitude.begin() + count);
        if (with_offset) out.amplitudes.push_back(found->offset);
        out.shape.assign(found->time_constant.begin(), found->time_constant.begin() + count);
    } else if (law.form == Form::stretched) {
        const bool with_offset = law.amplitudes.size() > 1;
        const auto found = fit_even_stretched(curve, with_offset, law.constant);
        if (!found) return out;
        out.rss = found->rss;
        out.amplitudes = {found->amplitude};
        if (with_offset) out.amplitudes.push_back(found->offset);
        out.shape = {found->time_constant, found->exponent};
    } else {
        return out;
    }
    out.outcome = Outcome::converged;
    out.fast = true;
    return out;
}

Solution solve_generally(const Law& law, const Curve& curve, Way way) {
    Solution out;
    const Admission admitted = admit(law, curve, {});
    out.outcome = admitted.outcome;
    if (!admitted.ok()) return out;
    if (way == Way::any && !admitted.ordered.x.empty())
        if (Solution quick = solve_quickly(law, admitted.points); quick.ok()) return quick;
    const Problem problem(law, admitted.points);
    const SearchRange range = search_range(problem, {});
    Descent best = search(problem, range).best;
    out.outcome = best.outcome;
    if (!best.at.usable) return out;
    put_in_order(problem, best, range.bounds);
    polish(problem, best, range.bounds);
    const double unit = problem.y_unit() / problem.sigma_unit();
    out.rss = best.at.rss * unit * unit;
    for (const double amplitude : best.at.amplitude) out.amplitudes.push_back(amplitude * problem.y_unit());
    for (std::size_t k = 0; k < law.shape.size(); ++k)
        out.shape.push_back(std::exp(best.log_theta[k]) *
                            (law.shape[k].scales_with_x ? problem.x_unit() : 1));
    return out;
}

}  // namespace

Solution solve(const Law& law, const Curve& curve, Way way) {
    if (way != Way::general) {
        Solution quick = solve_quickly(law, curve);
        if (quick.ok() || way == Way::fast) return quick;
    }
    return solve_generally(law, curve, way);
}

}  // namespace ebbtide::fit
