// Resistivity and field coefficient of a backed sheet from 60 readings of its fall.

#include <fmt/core.h>

#include <cmath>
#include <numbers>
#include <stdexcept>

#include "peer.hpp"
#include "row.hpp"
#include "sheet/forward.hpp"
#include "sheet/inversion.hpp"

namespace ebbtide::speed {
namespace {

// The same figures stand in peers/sheet_cvode.cpp.
constexpr sheet::Backing film{0.0762, 1e-9};
constexpr double true_ohm_sq = 1e11, true_beta = 2e-3, held_V = 5000;

template <class Value>
Value got(Result<Value> result) {
    if (!result) throw std::runtime_error(result.error().text());
    return std::move(result).value();
}

sheet::FallModel field_model() {
    return got(sheet::fall_model(got(sheet::TimedSheet::of(film)), sheet::Second::field));
}

fit::CurveStore seen_curve(std::size_t count) {
    const double T1_s = true_ohm_sq * film.capacitance_F_m2 * std::pow(film.gap_m / std::numbers::pi, 2);
    fit::CurveStore out;
    for (std::size_t i = 1; i <= count; ++i)
        out.x.push_back(6 * T1_s * static_cast<double>(i) / static_cast<double>(count));
    const auto course = got(sheet::simulate(got(sheet::cut_sheet(film)), {true_ohm_sq, true_beta}, {held_V},
                                            out.x, {.tolerance = 1e-8}));
    for (std::size_t i = 0; i < count; ++i) {
        const auto n = static_cast<double>(i);
        out.y.push_back(course.sensed_V[i] + held_V * 1e-3 * std::sin(0.7 * n * n));
    }
    return out;
}

double answer_of(const sheet::FallModel& model, const fit::CurveStore& curve) {
    sheet::SeenFall fall;
    fall.curve = curve.view();
    fall.held_V = fall.clamp_V.emplace(held_V);
    const sheet::Inversion found = sheet::invert(model, fall);
    if (found.state != sheet::InversionState::determined || !found.second.value)
        throw std::runtime_error("the inversion found nothing: " + found.reason);
    return *found.time_constant_s.value / (true_ohm_sq * model.sheet.time_per_ohm_s()) +
           *found.second.value / (true_beta * std::sqrt(held_V / film.gap_m));
}

/// With intervals by profile likelihood, which no peer works out; the table of readings made anew or once.
Turn inverted(bool with_table, std::size_t count = 60) {
    return [with_table, curve = seen_curve(count), kept = field_model()] {
        const int repeats = with_table ? 2 : 20;
        Lap lap;
        lap.seconds = processor_seconds_of([&] {
                          for (int i = 0; i < repeats; ++i)
                              lap.answer = answer_of(with_table ? field_model() : kept, curve);
                      }) /
                      repeats;
        return lap;
    };
}

}  // namespace

Row inversion_row(const std::string& /*folder*/) {
    Row row;
    row.id = "inversion";
    row.work = "resistivity and field coefficient from a fall";
    row.size = "200 strips, 60 readings, a thousandth of noise";
    row.amount = 1;
    row.unit = "inversions";
    const std::string once = "ours, table of readings made once for a fixture";
    row.ours = {"ours, table of readings made anew", inverted(true)};
    row.ours_too = {{once, inverted(false)}};
    row.peers = {peer("Gauss and Newton on CVODE", {EBBTIDE_PEER_PROGRAMS "/peer_cvode", "invert"})};
    row.goals = {{"with its table at most 1/10 of CVODE", "Gauss and Newton on CVODE", 10},
                 {"by a table made once at most 1/10 of CVODE", "Gauss and Newton on CVODE", 10, once}};
    // Each is right to what its simulations are: 1e-4 of a reading leaves 1e-3 of the coefficient.
    row.answer_tolerance = 3e-3;
    row.limit = "stepped simulations of the table; without it evaluations of interpolated readings";
    for (const std::size_t count : {60u, 600u, 6'000u, 60'000u})
        row.growth.push_back({static_cast<double>(count), inverted(false, count)});
    row.growth_unit = "readings by a table made once";
    return row;
}

}  // namespace ebbtide::speed
