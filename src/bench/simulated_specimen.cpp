// What hangs in the clamps of a simulated bench.

#include <fmt/format.h>

#include <cmath>
#include <utility>

#include "bench/simulated_bench.hpp"
#include "sheet/live_standard.hpp"

namespace ebbtide::bench {
namespace {

using plan::FaultKind;

/// An insulator that takes no charge: beyond what any bench could see move.
constexpr double takes_nothing_ohm_sq = 1e20;

Error not_mounted(std::string what, std::string remedy) {
    return {Fault::bad_input, std::move(what), "simulated bench", std::move(remedy)};
}

}  // namespace

Result<Done> SimulatedBench::mount(std::string_view specimen) {
    if (const auto moved = advance(now_ns_); !moved) return moved;
    if (laid_on_)
        return not_mounted("the output is on", "Switch it off and earth the clamps before mounting");
    const plan::SimulatedSpecimen* found = simulation_.specimen(specimen);
    if (!specimen.empty() && !found)
        return not_mounted(fmt::format("there is no specimen '{}' in the simulation", specimen), "");
    std::unique_ptr<sheet::Clamped> next;
    live_ = nullptr;
    if (!found) {
        next = std::make_unique<sheet::Reflection>(fixture_->induced_fraction);
    } else if (found->kind == plan::SimulatedSpecimen::Kind::plate) {
        next = std::make_unique<sheet::Reflection>(1);
    } else if (found->kind == plan::SimulatedSpecimen::Kind::check_standard) {
        const plan::SimulatedFault* wrong = on(FaultKind::wrong_check_standard);
        next = std::make_unique<sheet::LiveStandard>(
            sheet::CheckStandard{found->resistance_ohm * (wrong ? wrong->amount : 1), found->capacitance_F,
                                 found->stray_F, found->to_clamps_F, found->voltage_coefficient_per_V});
    } else {
        auto hung = hang(*found, found->contact_ohm_m, nullptr);
        if (!hung) return hung.error();
        next = std::move(hung).value();
    }
    clamped_ = std::move(next);
    mounted_ = found;
    slipped_ = watching_ = false;
    return begin_stretch(clamps_go_on());
}

Result<Done> SimulatedBench::rehang() {
    if (!live_) return Done{};
    const double right_ohm_m = slipped_ ? on(FaultKind::slips_out)->amount : mounted_->contact_ohm_m;
    if (material_of(*mounted_).surface_resistivity_ohm_sq == hung_ohm_sq_ &&
        right_ohm_m == hung_contact_ohm_m_)
        return Done{};
    const sheet::Charged before = live_->state(moment_s_ - stretch_from_s_);
    auto hung = hang(*mounted_, right_ohm_m, &before);
    if (!hung) return hung.error();
    clamped_ = std::move(hung).value();
    return begin_stretch(clamps_go_on());
}

Result<std::unique_ptr<sheet::LiveSheet>> SimulatedBench::hang(const plan::SimulatedSpecimen& specimen,
                                                               double right_contact_ohm_m,
                                                               const sheet::Charged* start) {
    const sheet::Material material = material_of(specimen);
    const sheet::Contacts contacts{specimen.contact_ohm_m, right_contact_ohm_m};
    auto hung = [&] {
        if (!specimen.map)
            return sheet::hang_sheet(
                fixture_, material, contacts,
                start ? *start : sheet::evenly_charged(*fixture_, material, specimen.residual_V));
        sheet::SheetMap map = maps_.find(specimen.id)->second;
        if (on(FaultKind::no_charge_taken))
            map.surface_resistivity_ohm_sq.setConstant(material.surface_resistivity_ohm_sq);
        else
            map.surface_resistivity_ohm_sq *=
                material.surface_resistivity_ohm_sq / specimen.surface_resistivity_ohm_sq;
        map.leak_S_m2 = material.leak_S_m2;
        return sheet::hang_map(map, contacts,
                               start ? *start : sheet::evenly_charged(map, specimen.residual_V));
    }();
    if (!hung) return hung;
    hung_ohm_sq_ = material.surface_resistivity_ohm_sq;
    hung_contact_ohm_m_ = right_contact_ohm_m;
    live_ = hung->get();
    return hung;
}

sheet::Material SimulatedBench::material_of(const plan::SimulatedSpecimen& specimen) const {
    sheet::Material out{
        specimen.surface_resistivity_ohm_sq, specimen.field_coefficient, specimen.leak_S_m2, {}};
    for (const plan::SimulatedAbsorption& term : specimen.absorption)
        out.absorption.push_back({term.capacitance_F_m2, term.relaxation_s});
    const plan::SimulatedFault* air = on(FaultKind::humidity_excursion);
    if (air && specimen.humidity_percent_per_decade)
        out.surface_resistivity_ohm_sq *=
            std::pow(10, (simulation_.climate.relative_humidity_percent - air->amount) /
                             *specimen.humidity_percent_per_decade);
    if (on(FaultKind::no_charge_taken)) {
        out = {};
        out.surface_resistivity_ohm_sq = takes_nothing_ohm_sq;
    }
    return out;
}

}  // namespace ebbtide::bench
