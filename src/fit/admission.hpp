#pragma once
// Whether points can be fitted at all, and in which order.

#include <optional>
#include <string>
#include <vector>

#include "fit/curve.hpp"
#include "fit/descent.hpp"
#include "fit/law.hpp"

namespace ebbtide::fit {

struct Admission {
    Outcome outcome = Outcome::not_run;  ///< not_run: nothing stands against a fit; else why not
    std::string reason;
    CurveStore ordered;  ///< the points by ascending x, where they were not
    Curve points;        ///< by ascending x; views `ordered` or what was given

    [[nodiscard]] bool ok() const { return outcome == Outcome::not_run; }
};

/// `held` as in fit(). The curve must outlive the answer, which is not to be copied.
[[nodiscard]] Admission admit(const Law& law, const Curve& curve,
                              const std::vector<std::optional<double>>& held);

/// In words; empty for `converged`.
[[nodiscard]] std::string words_of(Outcome outcome);

}  // namespace ebbtide::fit
