#include "plan/bench.hpp"

#include <cmath>

namespace ebbtide::plan {
namespace {

/// As written in the same file: not a matter of how well a length is known.
bool same_length(const std::optional<double>& now_mm, double then_mm) {
    return now_mm && std::abs(*now_mm - then_mm) <= 1e-9 * then_mm;
}

}  // namespace

std::string_view name_of(FixtureCalibration::Quantity quantity) {
    using enum FixtureCalibration::Quantity;
    switch (quantity) {
        case capacitance:
            return "capacitance";
        case stray_capacitance:
            return "stray_capacitance";
        case induced_fraction_positive:
            return "induced_fraction_positive";
        case induced_fraction_negative:
            return "induced_fraction_negative";
    }
    return "";
}

const FixtureCalibration* Bench::calibration_of(FixtureCalibration::Quantity quantity) const {
    const FixtureCalibration* latest = nullptr;
    for (const FixtureCalibration& one : fixture_calibrations)
        if (one.quantity == quantity && same_length(fixture.clamp_gap_mm, one.clamp_gap_mm) &&
            same_length(fixture.sensor_distance_mm, one.sensor_distance_mm) &&
            (latest == nullptr || latest->done < one.done))
            latest = &one;
    return latest;
}

}  // namespace ebbtide::plan
