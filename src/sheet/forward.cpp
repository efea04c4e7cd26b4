#include "sheet/forward.hpp"

#include <fmt/core.h>

#include <algorithm>
#include <array>
#include <cmath>

#include "sheet/input_problems.hpp"
#include "sheet/prepared_sheet.hpp"
#include "sheet/strip_balance.hpp"
#include "sheet/walk.hpp"

namespace ebbtide::sheet {

namespace {

std::optional<Error> problem_of(const CutSheet& sheet, const Material& material, const Clamps& clamps,
                                std::span<const double> times_s) {
    if (auto problem = problem_of(material)) return problem;
    if (auto problem = problem_of(clamps)) return problem;
    if (auto problem = problem_of(times_s, clamps)) return problem;
    // e^50 makes an insulator a metal.
    const double exponent = Conduction(sheet, material, clamps).strongest_exponent(clamps.voltage_V);
    if (exponent <= 50) return std::nullopt;
    return bad_input(fmt::format("the field coefficient {} makes R_s fall by e^{:.3g} at the clamps",
                                 material.field_coefficient, exponent),
                     "it counts in (m/V)^(1/2), such as 1e-3");
}

/// What both halves of a sheet do, of one.
void mirror(Course& course) {
    for (auto* both : {&course.charge_C_m, &course.through_clamps_C_m, &course.leaked_C_m})
        for (double& each : *both) each *= 2;
    for (auto* profiles : {&course.potential_V, &course.charge_C_m2})
        for (std::vector<double>& profile : *profiles) {
            const std::vector<double> right(profile.rbegin(), profile.rend());
            profile.insert(profile.end(), right.begin(), right.end());
        }
}

/// One sheet, or four side by side.
Result<std::vector<Course>> by_steps(const CutSheet& sheet, std::span<const Material> materials,
                                     std::span<const Clamps> clamps, std::span<const double> times_s,
                                     const Options& options) {
    const bool alike = std::ranges::all_of(
        clamps, [](const Clamps& each) { return each.left_contact_ohm_m == each.right_contact_ohm_m; });
    const std::optional<CutSheet> half = alike ? left_half(sheet) : std::nullopt;
    StripBalance balance(half ? *half : sheet, materials, clamps);
    std::vector<std::array<Phase, 2>> phases;
    for (const Clamps& each : clamps) phases.push_back(phases_of(each));
    auto courses = follow(balance, phases, times_s, options);
    if (half && courses)
        for (Course& course : *courses) mirror(course);
    return courses;
}

/// Whether sheets can take the same steps, and take them at all.
bool go_together(const CutSheet& sheet, std::span<const Material> materials, std::span<const Clamps> clamps,
                 const Options& options) {
    if (sheet.hangs()) return false;
    for (std::size_t i = 0; i < materials.size(); ++i)
        if ((options.method == Method::best && has_modes(sheet, materials[i])) ||
            materials[i].absorption.size() != materials[0].absorption.size() ||
            clamps[i].hold_s != clamps[0].hold_s)
            return false;
    return true;
}

}  // namespace

Result<Course> simulate(const CutSheet& sheet, const Material& material, const Clamps& clamps,
                        std::span<const double> times_s, const Options& options) {
    if (auto problem = problem_of(sheet, material, clamps, times_s)) return *problem;
    if (auto problem = problem_of(options)) return *problem;
    if (options.method == Method::best) {
        const auto prepared = PreparedSheet::of(sheet, material, clamps, options.profiles);
        if (prepared) return prepared->course(material.surface_resistivity_ohm_sq, clamps, times_s);
    }
    auto courses = by_steps(sheet, std::span(&material, 1), std::span(&clamps, 1), times_s, options);
    if (!courses) return courses.error();
    return std::move(courses.value().front());
}

Result<std::vector<Course>> simulate_all(const CutSheet& sheet, std::span<const Material> materials,
                                         std::span<const Clamps> clamps, std::span<const double> times_s,
                                         const Options& options) {
    if (materials.size() != clamps.size())
        return bad_input(fmt::format("each material must have clamps of its own; got {} materials, {} clamps",
                                     materials.size(), clamps.size()));
    std::vector<Course> out;
    if (!go_together(sheet, materials, clamps, options)) {
        for (std::size_t i = 0; i < materials.size(); ++i) {
            auto course = simulate(sheet, materials[i], clamps[i], times_s, options);
            if (!course) return course.error();
            out.push_back(std::move(course).value());
        }
        return out;
    }
    if (auto problem = problem_of(options)) return *problem;
    for (std::size_t i = 0; i < materials.size(); ++i)
        if (auto problem = problem_of(sheet, materials[i], clamps[i], times_s)) return *problem;
    constexpr std::size_t side_by_side = most_side_by_side;
    for (std::size_t first = 0; first < materials.size(); first += side_by_side) {
        // Where less than four are left, the last of them fills up.
        std::vector<Material> four;
        std::vector<Clamps> their_clamps;
        const std::size_t left = std::min(materials.size() - first, side_by_side);
        for (std::size_t k = 0; k < (left == 1 ? 1 : side_by_side); ++k) {
            four.push_back(materials[first + std::min(k, left - 1)]);
            their_clamps.push_back(clamps[first + std::min(k, left - 1)]);
        }
        auto courses = by_steps(sheet, four, their_clamps, times_s, options);
        if (!courses) return courses.error();
        for (std::size_t k = 0; k < left; ++k) out.push_back(std::move(courses.value()[k]));
    }
    return out;
}

}  // namespace ebbtide::sheet
