#pragma once
// A sheet in clamps whose voltage is changed while it conducts: what a bench that takes commands has hanging
// in it. A plain charge, hold and release gives what simulate() gives (forward.hpp).

#include <Eigen/Dense>
#include <memory>
#include <optional>
#include <vector>

#include "sheet/forward.hpp"
#include "sheet/stretch.hpp"

namespace ebbtide::sheet {

/// What hangs between the clamps: everything the sensor is told of it.
class Clamped {
  public:
    virtual ~Clamped() = default;
    /// From t of the stretch that lasts, the clamps follow the sum of `clamp_V`: that stretch ends there and
    /// another begins. Internal error: no solution.
    [[nodiscard]] virtual Result<Done> turn(double t, const std::vector<ExponentialPart>& clamp_V) = 0;
    /// Of the sensor, in volts of the sheet, since the last turn; what the clamps induce is included.
    [[nodiscard]] virtual const Stretch& reading_V() const = 0;
    /// Where the stretch has a length: on from its end, the clamps as they were.
    [[nodiscard]] virtual Result<Done> go_on() { return Done{}; }
};

/// Nothing in the clamps, or a metal plate on them: a reading that is a part of the clamps' voltage.
class Reflection final : public Clamped {
  public:
    explicit Reflection(double reading_per_V) : reading_per_V_(reading_per_V) {}
    [[nodiscard]] Result<Done> turn(double t, const std::vector<ExponentialPart>& clamp_V) override;
    [[nodiscard]] const Stretch& reading_V() const override { return reading_; }

  private:
    double reading_per_V_;
    Stretch reading_;
};

/// Resistance times width between each clamp and the sheet, at least 0. A sheet that slipped out of a clamp
/// has a contact of 1e13 ohm m and more.
struct Contacts {
    double left_ohm_m = 0, right_ohm_m = 0;
};

/// Where a sheet stands.
struct Charged {
    Eigen::VectorXd own_V;       ///< of the strips, without what the clamps add
    Eigen::MatrixXd absorbed_V;  ///< [strip, term]: the voltage that a term's capacitance has taken
};

class LiveSheet : public Clamped {
  public:
    /// At t of the stretch.
    [[nodiscard]] virtual Charged state(double t) const = 0;
    /// Time constant of the slowest mode; none where the sheet has no modes.
    [[nodiscard]] virtual std::optional<double> slowest_s() const { return {}; }
};

/// A sheet that stands at `start` between clamps at 0 V; turn() is the next to be called. What changes in it
/// (a contact, its resistivity) makes it another sheet that starts from the state of the first.
///
/// By modes, exact, where the sheet is linear and nothing is absorbed; otherwise by the steps of simulate(),
/// each a stretch of its own. Bad input: as simulate().
[[nodiscard]] Result<std::unique_ptr<LiveSheet>> hang_sheet(std::shared_ptr<const CutSheet> sheet,
                                                            const Material& material,
                                                            const Contacts& contacts, const Charged& start);

/// Charge spread evenly over the sheet's potential, such that the sensor reads `reading_V` while the clamps
/// are earthed: what neutralising left.
[[nodiscard]] Charged evenly_charged(const CutSheet& sheet, const Material& material, double reading_V);

}  // namespace ebbtide::sheet
