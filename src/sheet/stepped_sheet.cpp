#include "sheet/stepped_sheet.hpp"

#include <fmt/core.h>

#include <cmath>

#include "sheet/input_problems.hpp"
#include "sheet/strip_balance.hpp"
#include "sheet/walk.hpp"

namespace ebbtide::sheet {
namespace {

constexpr double allowed_V = 2e-4;
/// A longer step would be taken back when a command comes, and its middle is less sure than its end.
constexpr double longest_step_s = 0.5;

State standing(const Charged& start) {
    State out = State::empty(1, start.own_V.size(), start.absorbed_V.cols());
    out.own_V = start.own_V;
    out.absorbed_V = start.absorbed_V;
    return out;
}

class SteppedSheet final : public LiveSheet {
  public:
    SteppedSheet(std::unique_ptr<Balance> balance, Shown shown, const Charged& start)
        : balance_(std::move(balance)),
          shown_(std::move(shown)),
          walk_(*balance_, std::span(&phases_, 1), standing(start), Each::Constant(1, allowed_V)) {}

    [[nodiscard]] Result<Done> turn(double t, const std::vector<ExponentialPart>& clamp_V) override {
        double most_V = 0;
        for (const ExponentialPart& part : clamp_V) most_V += std::abs(part.amplitude_V);
        if (const double exponent = balance_->strongest_exponent(most_V); !(exponent <= 50))
            return bad_input(fmt::format("R_s falls by e^{:.3g} at the clamps", exponent),
                             "a field coefficient counts in (m/V)^(1/2), such as 1e-3");
        if (walk_.steps() > 0) walk_.go_back(walk_.begun_s() + t);
        phases_[0].parts = clamp_V;
        walk_.enter(0);
        return go_on();
    }
    [[nodiscard]] Result<Done> go_on() override {
        if (!walk_.step(walk_.time_s() + longest_step_s))
            return Error{Fault::internal, "no step of time is small enough for this sheet", "sheet", {}};
        const double from_s = walk_.begun_s();
        reading_ = {};
        reading_.length_s = walk_.time_s() - from_s;
        for (const ExponentialPart& part : phases_[0].parts)
            reading_.parts.push_back(
                {shown_.induced_fraction * part.amplitude_V * std::exp(-part.rate_per_s * from_s),
                 part.rate_per_s});
        // The cubic through its ends and thirds is that of the step.
        double v[4];
        for (int i = 0; i < 4; ++i)
            v[i] = shown_.per_own_V.dot(walk_.inside(from_s + reading_.length_s * i / 3.0).own_V);
        const double h = reading_.length_s;
        reading_.cubic = {v[0], (-11 * v[0] + 18 * v[1] - 9 * v[2] + 2 * v[3]) / (2 * h),
                          9 * (2 * v[0] - 5 * v[1] + 4 * v[2] - v[3]) / (2 * h * h),
                          9 * (-v[0] + 3 * v[1] - 3 * v[2] + v[3]) / (2 * h * h * h)};
        return Done{};
    }
    [[nodiscard]] const Stretch& reading_V() const override { return reading_; }
    [[nodiscard]] Charged state(double t) const override {
        const State at = walk_.steps() > 0 ? walk_.inside(walk_.begun_s() + t) : walk_.at();
        return {at.own_V, at.absorbed_V};
    }

  private:
    std::array<Phase, 2> phases_;  // the first, over and over
    std::unique_ptr<Balance> balance_;
    Shown shown_;
    Walk walk_;
    Stretch reading_;
};

/// With the sheet that it looks at.
class KeptStrips final : public StripBalance {
  public:
    KeptStrips(std::shared_ptr<const CutSheet> sheet, const Material& material, const Clamps& contacts)
        : StripBalance(*sheet, std::span(&material, 1), std::span(&contacts, 1)), sheet_(std::move(sheet)) {}

  private:
    std::shared_ptr<const CutSheet> sheet_;
};

}  // namespace

std::unique_ptr<LiveSheet> stepped_sheet(std::unique_ptr<Balance> balance, Shown shown,
                                         const Charged& start) {
    return std::make_unique<SteppedSheet>(std::move(balance), std::move(shown), start);
}

std::unique_ptr<LiveSheet> stepped_sheet(std::shared_ptr<const CutSheet> sheet, const Material& material,
                                         const Clamps& contacts, const Charged& start) {
    // Influences are symmetric: what a charge shows, by the charges of a volt, is what a volt shows.
    Shown shown{sheet->charge_of(sheet->reading_V_per_C_m), sheet->induced_fraction};
    return stepped_sheet(std::make_unique<KeptStrips>(std::move(sheet), material, contacts), std::move(shown),
                         start);
}

}  // namespace ebbtide::sheet
