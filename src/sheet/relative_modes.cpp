#include "sheet/relative_modes.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "sheet/clamped_modes.hpp"

namespace ebbtide::sheet {
namespace {

using std::numbers::pi;

constexpr std::size_t most_even_modes = 100;
constexpr double even = 1e-7;  // of the strongest drive: an odd mode is not driven by clamps that are alike

/// Rates are those of a sheet of 1 ohm, over `unit`.
std::optional<RelativeModes> modes_in(const CutSheet& sheet, double contact_ratio, double unit_per_s) {
    const Material material{1};
    Clamps clamps;
    clamps.voltage_V = 1;
    clamps.left_contact_ohm_m = clamps.right_contact_ohm_m = contact_ratio * sheet.edge_m.back();
    const Conduction conduction(sheet, material, clamps);
    const auto found = modes_of(sheet, material, conduction, false);
    if (!found) return std::nullopt;
    double strongest = 0;
    for (const Mode& mode : found->modes)
        strongest = std::max(strongest, std::abs(mode.drive / std::sqrt(mode.rate_per_s)));
    RelativeModes out;
    out.induced_fraction = sheet.induced_fraction;
    double sum = 0;
    for (const Mode& mode : found->modes) {
        if (!(std::abs(mode.drive / std::sqrt(mode.rate_per_s)) > even * strongest)) continue;
        const double weight = mode.reading_V * mode.drive / mode.rate_per_s;
        sum += weight;
        if (out.rate.size() == most_even_modes) continue;
        out.rate.push_back(mode.rate_per_s / unit_per_s);
        out.weight.push_back(weight);
    }
    if (out.rate.empty()) return std::nullopt;
    // The last carries the faster ones, so that the start is right.
    for (const double weight : out.weight) sum -= weight;
    out.weight.back() += sum;
    return out;
}

}  // namespace

double RelativeModes::reading(double t_over_T) const {
    double out = 0;
    for (std::size_t k = 0; k < rate.size() && rate[k] * t_over_T < 60; ++k)
        out += weight[k] * std::exp(-rate[k] * t_over_T);
    return out;
}

double RelativeModes::time_to(double level) const {
    if (reading(0) <= level) return 0;
    double low = 0, high = 1;
    while (reading(high) > level) {
        low = high;
        high *= 2;
    }
    for (int i = 0; i < 200 && high - low > 1e-15 * high; ++i) {
        const double middle = (low + high) / 2;
        (reading(middle) > level ? low : high) = middle;
    }
    return high;
}

Result<TimedSheet> TimedSheet::of(const Fixture& fixture, std::size_t strips) {
    auto cut = cut_sheet(fixture, strips);
    if (!cut) return cut.error();
    TimedSheet out;
    out.sheet_ = *std::move(cut);
    auto modes = modes_in(out.sheet_, 0, 1);
    if (!modes)
        return Error{Fault::internal, "a linear sheet with perfect contacts has no modes", "sheet", {}};
    out.time_per_ohm_s_ = 1 / modes->rate.front();
    for (double& rate : modes->rate) rate *= out.time_per_ohm_s_;
    out.modes_ = *std::move(modes);
    return out;
}

double TimedSheet::capacitance_F_m2() const {
    return time_per_ohm_s_ * pi * pi / (gap_m() * gap_m());
}

std::optional<RelativeModes> TimedSheet::modes_with_contact(double ratio) const {
    return modes_in(sheet_, ratio, 1 / time_per_ohm_s_);
}

}  // namespace ebbtide::sheet
