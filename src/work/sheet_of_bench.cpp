#include "work/sheet_of_bench.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>
#include <utility>

#include "decay/cross_section.hpp"

namespace ebbtide::work {
namespace {

using CalibratedQuantity = plan::FixtureCalibration::Quantity;

/// Reading of the empty fixture over clamp voltage, of both polarities where both were taken.
std::optional<double> measured_induced_fraction(const plan::Bench& bench) {
    const auto positive = bench.induced_fraction(true), negative = bench.induced_fraction(false);
    if (positive && negative) return (*positive + *negative) / 2;
    return positive ? positive : negative;
}

std::string caution_of(const plan::Bench& bench) {
    const auto& all = bench.fixture_calibrations;
    const bool any = std::ranges::any_of(all, [](const plan::FixtureCalibration& one) {
        return one.quantity == CalibratedQuantity::capacitance;
    });
    if (!any || bench.calibration_of(CalibratedQuantity::capacitance) != nullptr) return {};
    return "the capacitance was calibrated at another gap or sensor distance than the bench now states: it "
           "does not "
           "hold";
}

/// Share of the clamps in what the sensor sees of them and a sheet that lies on its backing: such a sheet
/// keeps its potential when theirs goes.
double seen_of_clamps(double gap_m, const plan::Fixture& fixture, const sheet::FaceView& face) {
    const double clamp_m = fixture.clamp_length_mm.value_or(25) / 1000;
    const double sheet = sheet::share_of_band(-gap_m / 2, gap_m / 2, face),
                 clamp = sheet::share_of_band(gap_m / 2, gap_m / 2 + clamp_m, face);
    return 2 * clamp / (sheet + 2 * clamp);
}

}  // namespace

std::string_view name_of(SheetOperator one) {
    return one == SheetOperator::hanging ? "hanging" : "backed";
}

std::string_view name_of(CapacitanceSource one) {
    switch (one) {
        case CapacitanceSource::calibrated:
            return "calibrated";
        case CapacitanceSource::stated:
            return "stated";
        case CapacitanceSource::by_lengths:
            return "by_lengths";
        case CapacitanceSource::unknown:
            return "unknown";
    }
    return "";
}

double BenchSheet::time_per_ohm_s() const {
    return capacitance_F_m2 * std::pow(sheet.gap_m() / std::numbers::pi, 2);
}

Result<BenchSheet> sheet_of(const plan::Bench& bench, const SheetQuestion& question) {
    const std::string where = fmt::format("bench {} [fixture]", bench.id);
    if (bench.apparatus != plan::Apparatus::clamp_discharge)
        return Error{Fault::bad_input,
                     "only a sheet between clamps has a surface resistivity that can be told", where,
                     "Name the bench that discharges through clamps"};
    if (!bench.fixture.clamp_gap_mm)
        return Error{
            Fault::bad_input, "the gap between the clamps is not stated", where,
            "State clamp_gap_mm, and sensor_distance_mm and enclosure_behind_mm for a sheet that hangs"};
    if (question.backing_capacitance_F_m2 &&
        !(*question.backing_capacitance_F_m2 > 0 && *question.backing_capacitance_F_m2 <= 1))
        return Error{Fault::bad_input,
                     fmt::format("a backing capacitance must be above 0 and at most 1 F/m2; got {}",
                                 *question.backing_capacitance_F_m2),
                     "--backing-capacitance", "Permittivity over distance: 8.85e-12 times er over metres"};
    const double gap_m = *bench.fixture.clamp_gap_mm / 1000;
    const auto across = decay::cross_section_of(bench.fixture);
    const bool hangs = across && !question.backed && !question.backing_capacitance_F_m2;

    BenchSheet out;
    out.used = hangs ? SheetOperator::hanging : SheetOperator::backed;
    out.caution = caution_of(bench);
    const plan::FixtureCalibration* calibrated = bench.calibration_of(CalibratedQuantity::capacitance);
    std::optional<sheet::TimedSheet> hanging;
    if (across) {
        auto timed = sheet::TimedSheet::of(*across);
        if (!timed && hangs) {
            Error error = timed.error();
            error.where = where;
            return error;
        }
        if (timed) hanging = *std::move(timed);
    }
    if (question.backing_capacitance_F_m2) {
        out.source = CapacitanceSource::stated;
        out.capacitance_F_m2 = *question.backing_capacitance_F_m2;
    } else if (calibrated != nullptr) {
        out.source = CapacitanceSource::calibrated;
        out.capacitance_F_m2 = calibrated->value;
        out.u_capacitance = calibrated->u / calibrated->value;
    } else if (hanging) {
        out.source = CapacitanceSource::by_lengths;
        out.capacitance_F_m2 = hanging->capacitance_F_m2();
    }
    std::optional<double> induced = measured_induced_fraction(bench);
    const std::optional<sheet::FaceView> face = out.face = decay::face_view_of(bench.fixture);
    out.clamps_induce = induced;
    if (!induced && hanging) out.clamps_induce = hanging->modes().induced_fraction;
    if (!induced && hangs) induced = out.clamps_induce;
    if (!induced && face) induced = seen_of_clamps(gap_m, bench.fixture, *face);
    // Of an unknown capacitance only the product is asked: any will do.
    auto backed = sheet::TimedSheet::of(sheet::Backing{
        gap_m, out.capacitance_F_m2 > 0 ? out.capacitance_F_m2 : 1e-9, 0, induced.value_or(0), face});
    if (!backed && !hangs) {
        Error error = backed.error();
        error.where = where;
        return error;
    }
    out.sheet = hangs ? *hanging : *std::move(backed);
    if (hangs && backed)
        out.other = *std::move(backed);
    else if (!hangs && !question.backing_capacitance_F_m2)
        out.other = std::move(hanging);
    return out;
}

}  // namespace ebbtide::work
