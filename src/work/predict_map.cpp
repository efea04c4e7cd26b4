#include "work/predict_map.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <numbers>
#include <utility>

#include "decay/sheet_cells.hpp"
#include "sheet/map.hpp"

namespace ebbtide::work {
namespace {

Error no_map(std::string what, std::string remedy) {
    return {Fault::bad_input, std::move(what), "sheet map", std::move(remedy)};
}

/// When readings that only fall come to a level, by a straight line in log time between neighbours.
double time_below(const std::vector<double>& times_s, const std::vector<double>& reading, double level) {
    const auto below = std::ranges::find_if(reading, [&](double V) { return V <= level; });
    const auto i = static_cast<std::size_t>(below - reading.begin());
    if (i == 0) return 0;
    const double share = (reading[i - 1] - level) / (reading[i - 1] - reading[i]);
    if (i == 1) return times_s[1] * share;
    return times_s[i - 1] * std::pow(times_s[i] / times_s[i - 1], share);
}

/// From 0, then closer than a twentieth of a decade from far before anything moves.
std::vector<double> times_between(double first_s, double last_s) {
    constexpr int a_decade = 60;
    std::vector<double> out{0};
    const int count = static_cast<int>(std::ceil(a_decade * std::log10(last_s / first_s)));
    for (int i = 0; i <= count; ++i) out.push_back(first_s * std::pow(10, static_cast<double>(i) / a_decade));
    return out;
}

}  // namespace

Result<MapPrediction> predict_map(const MapRequest& request) {
    if (request.levels.empty())
        return Error{Fault::bad_input, "no level is asked", "--level", "Ask for one: 10%"};
    for (const plan::Level& level : request.levels)
        if (level.kind != plan::Level::Kind::fraction || !(level.value > 0 && level.value < 1))
            return Error{Fault::bad_input, fmt::format("'{}' is no share of the initial voltage", level.text),
                         "--level", "A sheet that nobody has charged yet has no volts: say 10% or 1/e"};
    const auto known = sheet_of(request.bench, request.question);
    if (!known) return known.error();
    if (known->used != SheetOperator::backed)
        return no_map("a sheet that hangs has no map: every place of it acts on every other",
                      "Give --backing-capacitance, or --backed for a capacitance that the bench knows");
    if (known->source == CapacitanceSource::unknown)
        return no_map("the sheet's capacitance is not known", "Give --backing-capacitance");
    const double gap_m = known->sheet.gap_m();
    auto cells = decay::cells_of(request.map, 1000 * gap_m);
    if (!cells) return cells.error();

    sheet::SheetMap map;
    map.gap_m = gap_m;
    map.width_m = request.map.width_mm / 1000;
    map.capacitance_F_m2 = known->capacitance_F_m2;
    map.leak_S_m2 = request.map.leak_S_m2;
    map.induced_fraction = known->sheet.modes().induced_fraction;
    map.face = known->face;
    MapPrediction out{known->source,
                      known->capacitance_F_m2,
                      known->u_capacitance,
                      map.induced_fraction,
                      known->caution,
                      static_cast<std::size_t>(cells->ohm_sq.rows()),
                      static_cast<std::size_t>(cells->ohm_sq.cols()),
                      cells->ohm_sq.minCoeff(),
                      cells->ohm_sq.maxCoeff(),
                      cells->parts_share,
                      {}};
    map.surface_resistivity_ohm_sq = std::move(cells->ohm_sq);

    // No mode is faster than the best of its cells allow, none slower than the worst.
    const double per_ohm_s = known->time_per_ohm_s();
    const double slowest_s =
        per_ohm_s * out.highest_ohm_sq + request.contact_ohm_m * map.capacitance_F_m2 * gap_m / 2;
    const std::vector<double> times_s = times_between(1e-3 * per_ohm_s * out.lowest_ohm_sq, 12 * slowest_s);
    sheet::Clamps clamps{1, request.contact_ohm_m, request.contact_ohm_m};
    std::vector<double> asked_s = times_s;
    asked_s.insert(asked_s.begin(), -times_s[1]);
    auto course = sheet::simulate(map, clamps, asked_s, {.tolerance = 1e-5});
    if (!course) return course.error();
    const double hold = course->sensed_V.front();
    std::vector<double> reading(course->sensed_V.begin() + 1, course->sensed_V.end());
    for (double& V : reading) V /= hold;
    for (const plan::Level& level : request.levels) {
        if (!(reading.back() < level.value * reading.front()))
            return Error{Fault::internal, "the fall of a map did not come to its levels", "sheet map", {}};
        MapLevel one{level,
                     time_below(times_s, reading, level.value),
                     time_below(times_s, reading, level.value * reading.front()),
                     {}};
        const double relative = known->sheet.modes().time_to(level.value);
        if (relative > 0) one.even_ohm_sq = one.decay_s / (relative * per_ohm_s);
        out.levels.push_back(std::move(one));
    }
    return out;
}

}  // namespace ebbtide::work
