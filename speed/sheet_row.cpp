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
#include "sheet/prepared_sheet.hpp"

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

sheet::PreparedSheet prepared() {
    const auto found = sheet::PreparedSheet::of(cut(), {resistivity_ohm_sq}, {start_V});
    if (!found) throw std::runtime_error(found.error().text());
    return found.value();
}

/// What a search for a resistivity repeats: the sheet is prepared outside of the timing.
Turn ours_prepared(std::size_t count = times) {
    return [=, sheet = prepared(), at_s = times_s(count)] {
        const int repeats = count > 1000 ? 20 : 500;
        Lap lap;
        std::vector<double> sensed_V;
        lap.seconds = processor_seconds_of([&] {
                          for (int i = 0; i < repeats; ++i)
                              sensed_V = sheet.sensed_V(resistivity_ohm_sq, {start_V}, at_s).value();
                      }) /
                      repeats;
        for (const double v : sensed_V) lap.answer += v / start_V;
        return lap;
    };
}

Finding preparation() {
    constexpr int repeats = 50;
    const double took_s = processor_seconds_of([&] {
                              for (int i = 0; i < repeats; ++i) (void)prepared();
                          }) /
                          repeats;
    return {
        fmt::format("outside of the timing: cutting and preparing the sheet took {:.3g} us, once for all "
                    "resistivities",
                    took_s * 1e6)};
}

/// What a search for resistivity and field coefficient asks for its slopes: the sheet itself first, three
/// that differ by a little.
std::vector<sheet::Course> four(const sheet::CutSheet& cut_sheet, double beta, double tolerance,
                                const std::vector<double>& at_s) {
    std::vector<sheet::Material> materials;
    for (const double higher : {1.0, 1.01})
        for (const double steeper : {1.0, 1.01})
            materials.push_back({resistivity_ohm_sq * higher, beta * steeper});
    const std::vector<sheet::Clamps> clamps(4, sheet::Clamps{start_V});
    auto courses =
        sheet::simulate_all(cut_sheet, materials, clamps, at_s, {sheet::Method::stepped, tolerance});
    if (!courses) throw std::runtime_error(courses.error().text());
    return std::move(courses).value();
}

Turn ours_four(double beta, double tolerance) {
    return [=, cut_sheet = cut(), at_s = times_s(times)] {
        constexpr int repeats = 10;
        Lap lap;
        std::vector<sheet::Course> courses;
        lap.seconds = processor_seconds_of([&] {
                          for (int i = 0; i < repeats; ++i) courses = four(cut_sheet, beta, tolerance, at_s);
                      }) /
                      (4 * repeats);
        for (const double v : courses[0].sensed_V) lap.answer += v / start_V;
        return lap;
    };
}

std::vector<Finding> error_of(double beta, double tolerance) {
    const sheet::CutSheet cut_sheet = cut();
    const std::vector<double> at_s = times_s(times);
    const auto exact = readings(cut_sheet, beta, {sheet::Method::stepped, 1e-11}, at_s);
    const auto finding = [&](const char* words, const std::vector<double>& stepped) {
        double worst = 0;
        for (std::size_t i = 0; i < times; ++i)
            worst = std::max(worst, std::abs(stepped[i] - exact[i]) / start_V);
        return Finding{fmt::format("error of {} {:.1e} of the start, 1e-4 allowed", words, worst),
                       worst <= 1e-4};
    };
    std::vector<Finding> out{
        finding("the steps", readings(cut_sheet, beta, {sheet::Method::stepped, tolerance}, at_s))};
    if (beta > 0) out.push_back(finding("four at once", four(cut_sheet, beta, tolerance, at_s)[0].sensed_V));
    return out;
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
    const std::string modes = "ours, by modes of a prepared sheet";
    row.ours_too = {{modes, ours_prepared()}, {"ours, by modes, unprepared", ours(0, {})}};
    row.goals = {{"by steps at most 1/6 of CVODE", "CVODE", 6},
                 {"by modes of a prepared sheet at most 1/500 of CVODE", "CVODE", 500, modes}};
    row.findings = [] {
        auto out = error_of(0, linear_tolerance);
        out.push_back(preparation());
        return out;
    };
    row.limit = "six tridiagonal solves a step, one waiting for the other";
    for (const std::size_t count : {60u, 600u, 6'000u, 60'000u})
        row.growth.push_back({static_cast<double>(count), ours_prepared(count)});
    row.growth_unit = "readings by modes of a prepared sheet";
    return row;
}

Row sheet_field_row(const std::string& /*folder*/) {
    Row row = row_of(2e-3, field_tolerance);
    row.id = "sheet_field";
    row.work = "sheet whose resistivity falls with the field, from its release to six time constants";
    const std::string together = "ours, each of four at once";
    row.ours_too = {{together, ours_four(2e-3, field_tolerance)}};
    row.goals = {{"one at a time at most 1/5 of CVODE", "CVODE", 5},
                 {"each of four at once at most 1/12 of CVODE", "CVODE", 12, together}};
    row.limit = "roots and exponentials of the field, tridiagonal solves";
    for (const std::size_t count : {60u, 600u, 6'000u, 60'000u})
        row.growth.push_back(
            {static_cast<double>(count), ours(2e-3, {sheet::Method::stepped, field_tolerance}, count)});
    row.growth_unit = "readings";
    return row;
}

}  // namespace ebbtide::speed
