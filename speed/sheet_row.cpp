// The charge on a backed sheet of 200 strips from its release to six time constants: linear, and with a
// resistivity that falls with the field.

#include <fmt/core.h>

#include <algorithm>
#include <cmath>
#include <numbers>
#include <stdexcept>

#include "peer.hpp"
#include "row.hpp"
#include "sheet/forward.hpp"

namespace ebbtide::speed {
namespace {

// The same figures stand in peers/sheet_cvode.cpp.
constexpr sheet::Backing backing{0.0762, 1e-9};
constexpr double resistivity_ohm_sq = 1e11, start_V = 5000;
constexpr std::size_t times = 60;

/// The loosest tolerance whose readings are right to 1e-4 of the start.
constexpr double linear_tolerance = 3e-4, field_tolerance = 7e-5;

std::vector<double> times_s(std::size_t count) {
    const double T1_s =
        resistivity_ohm_sq * backing.capacitance_F_m2 * std::pow(backing.gap_m / std::numbers::pi, 2);
    std::vector<double> out;
    for (std::size_t i = 1; i <= count; ++i)
        out.push_back(6 * T1_s * static_cast<double>(i) / static_cast<double>(count));
    return out;
}

sheet::CutSheet cut() {
    const auto found = sheet::cut_sheet(backing, 200);
    if (!found) throw std::runtime_error(found.error().text());
    return found.value();
}

std::vector<double> readings(const sheet::CutSheet& cut_sheet, double beta, const sheet::Options& options,
                             const std::vector<double>& at_s) {
    const auto course = sheet::simulate(cut_sheet, {resistivity_ohm_sq, beta}, {start_V}, at_s, options);
    if (!course) throw std::runtime_error(course.error().text());
    return course->sensed_V;
}

Turn ours(double beta, const sheet::Options& options, std::size_t count = times) {
    return [=, cut_sheet = cut(), at_s = times_s(count)] {
        constexpr int repeats = 20;
        Lap lap;
        std::vector<double> sensed_V;
        lap.seconds = processor_seconds_of([&] {
                          for (int i = 0; i < repeats; ++i)
                              sensed_V = readings(cut_sheet, beta, options, at_s);
                      }) /
                      repeats;
        for (const double v : sensed_V) lap.answer += v / start_V;
        return lap;
    };
}

std::vector<Finding> error_of(double beta, double tolerance) {
    const sheet::CutSheet cut_sheet = cut();
    const auto by = [&](double at_tolerance) {
        return readings(cut_sheet, beta, {sheet::Method::stepped, at_tolerance}, times_s(times));
    };
    const std::vector<double> exact = by(1e-11), stepped = by(tolerance);
    double worst = 0;
    for (std::size_t i = 0; i < times; ++i)
        worst = std::max(worst, std::abs(stepped[i] - exact[i]) / start_V);
    return {{fmt::format("error of the steps {:.1e} of the start, 1e-4 allowed", worst), worst <= 1e-4}};
}

Row row_of(double beta, double tolerance) {
    Row row;
    row.size = fmt::format("200 strips, {} readings right to 1e-4 of the start", times);
    row.amount = 1;
    row.unit = "courses";
    row.ours = {"ours, by steps", ours(beta, {sheet::Method::stepped, tolerance})};
    row.peers = {peer("CVODE", {EBBTIDE_PEER_PROGRAMS "/peer_cvode", fmt::format("{}", beta)})};
    // Sixty errors of 1e-4 in a sum of 6 to 12.
    row.answer_tolerance = 1e-3;
    row.findings = [=] { return error_of(beta, tolerance); };
    return row;
}

}  // namespace

Row sheet_row(const std::string& /*folder*/) {
    Row row = row_of(0, linear_tolerance);
    row.id = "sheet";
    row.work = "linear sheet from its release to six time constants";
    const std::string modes = "ours, by modes";
    row.ours_too = {{modes, ours(0, {})}};
    row.goals = {{"by steps at most 1/6 of CVODE", "CVODE", 6},
                 {"by modes at most 1/500 of CVODE", "CVODE", 500, modes}};
    row.limit = "six tridiagonal solves a step, one waiting for the other";
    for (const std::size_t count : {60u, 600u, 6'000u, 60'000u})
        row.growth.push_back({static_cast<double>(count), ours(0, {}, count)});
    row.growth_unit = "readings by modes";
    return row;
}

Row sheet_field_row(const std::string& /*folder*/) {
    Row row = row_of(2e-3, field_tolerance);
    row.id = "sheet_field";
    row.work = "sheet whose resistivity falls with the field, from its release to six time constants";
    row.goals = {{"at most 1/5 of CVODE", "CVODE", 5}};
    row.limit = "roots and exponentials of the field, tridiagonal solves";
    for (const std::size_t count : {60u, 600u, 6'000u, 60'000u})
        row.growth.push_back(
            {static_cast<double>(count), ours(2e-3, {sheet::Method::stepped, field_tolerance}, count)});
    row.growth_unit = "readings";
    return row;
}

}  // namespace ebbtide::speed
