#include "sheet/live_sheet.hpp"

#include <algorithm>
#include <cmath>
#include <span>

#include "sheet/clamped_modes.hpp"
#include "sheet/stepped_sheet.hpp"

namespace ebbtide::sheet {
namespace {

using Eigen::Index, Eigen::MatrixXd, Eigen::VectorXd;

/// Each mode is an exponential of its own and one for each part of the clamps' voltage.
class ModalSheet final : public LiveSheet {
  public:
    ModalSheet(std::shared_ptr<const CutSheet> sheet, Decomposition modes, const Charged& start)
        : sheet_(std::move(sheet)), modes_(std::move(modes)), start_V_(start.own_V) {}

    [[nodiscard]] Result<Done> turn(double t, const std::vector<ExponentialPart>& clamp_V) override {
        if (rate_.size() > 0) start_V_ = own_V(t);
        begin(clamp_V);
        return Done{};
    }
    [[nodiscard]] const Stretch& reading_V() const override { return reading_; }
    [[nodiscard]] Charged state(double t) const override {
        return {rate_.size() > 0 ? own_V(t) : start_V_, MatrixXd(start_V_.size(), 0)};
    }
    [[nodiscard]] std::optional<double> slowest_s() const override {
        return 1 / modes_.modes.front().rate_per_s;
    }

  private:
    // dm/dt = -rate m + drive sum A e^(-l t): m = own e^(-rate t) + sum drive A / (rate - l) e^(-l t).
    void begin(const std::vector<ExponentialPart>& clamp_V) {
        const auto count = static_cast<Index>(modes_.modes.size());
        const auto parts = static_cast<Index>(clamp_V.size());
        clamp_V_ = clamp_V;
        rate_.resize(count);
        own_.resize(count);
        driven_.resize(count, parts);
        reading_ = {};
        std::vector<double> with_clamps(clamp_V.size());
        for (std::size_t j = 0; j < clamp_V.size(); ++j)
            with_clamps[j] = sheet_->induced_fraction * clamp_V[j].amplitude_V;
        for (Index k = 0; k < count; ++k) {
            const Mode& mode = modes_.modes[static_cast<std::size_t>(k)];
            double rate = mode.rate_per_s;
            for (const ExponentialPart& part : clamp_V) rate = apart_from(rate, part.rate_per_s);
            const auto shape = modes_.potential.col(mode.shape), charge = modes_.charge_C_m.col(mode.shape);
            double own = charge.dot(start_V_) / (charge.dot(shape) * mode.potential);
            for (Index j = 0; j < parts; ++j) {
                const ExponentialPart& part = clamp_V[static_cast<std::size_t>(j)];
                driven_(k, j) = mode.drive * part.amplitude_V / (rate - part.rate_per_s);
                own -= driven_(k, j);
                with_clamps[static_cast<std::size_t>(j)] += mode.reading_V * driven_(k, j);
            }
            rate_(k) = rate;
            own_(k) = own;
            if (mode.reading_V * own != 0) reading_.parts.push_back({mode.reading_V * own, rate});
        }
        // Odd modes and those that were never stirred: rounding is all they hold.
        double most = 0;
        for (const ExponentialPart& part : reading_.parts) most = std::max(most, std::abs(part.amplitude_V));
        std::erase_if(reading_.parts,
                      [&](const ExponentialPart& part) { return std::abs(part.amplitude_V) < 1e-13 * most; });
        for (std::size_t j = 0; j < clamp_V.size(); ++j)
            reading_.parts.push_back({with_clamps[j], clamp_V[j].rate_per_s});
    }

    [[nodiscard]] VectorXd own_V(double t) const {
        VectorXd amplitude = own_.array() * (-t * rate_.array()).exp();
        for (Index j = 0; j < driven_.cols(); ++j)
            amplitude += std::exp(-clamp_V_[static_cast<std::size_t>(j)].rate_per_s * t) * driven_.col(j);
        VectorXd shapes = VectorXd::Zero(modes_.potential.cols());
        for (Index k = 0; k < amplitude.size(); ++k) {
            const Mode& mode = modes_.modes[static_cast<std::size_t>(k)];
            shapes(mode.shape) += mode.potential * amplitude(k);
        }
        return modes_.potential * shapes;
    }

    std::shared_ptr<const CutSheet> sheet_;
    Decomposition modes_;
    VectorXd start_V_;                      // the strips' own potentials where the stretch began
    std::vector<ExponentialPart> clamp_V_;  // of the stretch
    VectorXd rate_, own_;
    MatrixXd driven_;  // [mode, part of the clamps' voltage]
    Stretch reading_;
};

}  // namespace

Result<Done> Reflection::turn(double, const std::vector<ExponentialPart>& clamp_V) {
    reading_.parts = clamp_V;
    for (ExponentialPart& part : reading_.parts) part.amplitude_V *= reading_per_V_;
    return Done{};
}

Result<std::unique_ptr<LiveSheet>> hang_sheet(std::shared_ptr<const CutSheet> sheet, const Material& material,
                                              const Contacts& contacts, const Charged& start) {
    const Clamps clamps{.voltage_V = 1,
                        .left_contact_ohm_m = contacts.left_ohm_m,
                        .right_contact_ohm_m = contacts.right_ohm_m};
    if (const auto sound = simulate(*sheet, material, clamps, {}); !sound) return sound.error();
    if (has_modes(*sheet, material) && material.absorption.empty())
        if (auto modes = modes_of(*sheet, material, Conduction(*sheet, material, clamps), true))
            return std::unique_ptr<LiveSheet>(
                std::make_unique<ModalSheet>(std::move(sheet), *std::move(modes), start));
    return stepped_sheet(std::move(sheet), material, clamps, start);
}

Charged evenly_charged(const CutSheet& sheet, const Material& material, double reading_V) {
    const VectorXd one = VectorXd::Ones(sheet.strips());
    const double each_V = reading_V / sheet.reading_V_per_C_m.dot(sheet.charge_of(one));
    const auto terms = static_cast<Index>(material.absorption.size());
    return {each_V * one, MatrixXd::Constant(sheet.strips(), terms, each_V)};
}

}  // namespace ebbtide::sheet
