#pragma once
// The RC check standard in clamps whose voltage is changed: a sensed plate that goes to the clamps through a
// resistor and to earth through a capacitor.

#include "sheet/live_sheet.hpp"

namespace ebbtide::sheet {

/// t(p) = R (C + Cs + Cc) ln(1/p) after a prompt drop of Cc / (C + Cs + Cc), where R does not depend on the
/// voltage. All above zero but the last three, which are at least 0 (the coefficient at most 1e-4).
struct CheckStandard {
    double resistance_ohm = 0;
    double capacitance_F = 0;              ///< C: plate to earth
    double stray_F = 0;                    ///< Cs: plate to its surroundings with the sensor in place
    double to_clamps_F = 0;                ///< Cc: plate to clamps
    double voltage_coefficient_per_V = 0;  ///< R grows by so much of itself for each volt across it

    [[nodiscard]] double sum_F() const { return capacitance_F + stray_F + to_clamps_F; }
};

/// The plate starts at 0 V. With a resistor that depends on the voltage each stretch is a step of a Runge and
/// Kutta method of order 4: 1e-7 of the clamps' voltage.
class LiveStandard final : public Clamped {
  public:
    explicit LiveStandard(const CheckStandard& standard) : standard_(standard) {}
    [[nodiscard]] Result<Done> turn(double t, const std::vector<ExponentialPart>& clamp_V) override;
    [[nodiscard]] const Stretch& reading_V() const override { return reading_; }
    [[nodiscard]] Result<Done> go_on() override;

  private:
    void exact(const std::vector<ExponentialPart>& clamp_V);
    void step(const std::vector<ExponentialPart>& clamp_V);

    CheckStandard standard_;
    double own_V_ = 0;  ///< of the plate, without what the clamps' voltage puts on it through Cc
    double clamp_share_ = 0;
    std::vector<ExponentialPart> clamp_V_;
    Stretch reading_;
};

}  // namespace ebbtide::sheet
