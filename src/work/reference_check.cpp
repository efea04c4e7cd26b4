#include "work/reference_check.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace ebbtide::work {
namespace {

using plan::FlagCode;
using plan::Mounted;

std::string_view figure_of(Mounted mounted) {
    switch (mounted) {
        case Mounted::plate:
            return "span";
        case Mounted::nothing:
            return "induced_fraction";
        case Mounted::standard:
            return "standard_decay";
        case Mounted::blank:
            return "blank_accepted";
    }
    return "";
}

/// However it was written.
bool same_level(const plan::Level& a, const plan::Level& b) {
    return a.kind == b.kind && a.value == b.value;
}

}  // namespace

MeasureRequest reference_request(Mounted mounted, const std::optional<plan::Bench>& bench) {
    MeasureRequest request{usual_rules(), bench};
    if (mounted != Mounted::standard || !bench || !bench->check) return request;
    const plan::Level& known = bench->check->standard_level;
    std::vector<plan::Level>& levels = request.rules.levels;
    if (std::ranges::none_of(levels, [&](const plan::Level& one) { return same_level(one, known); }))
        levels.push_back(known);
    return request;
}

std::vector<bench::CheckFigure> hold_against_check(MeasuredRun& run, Mounted mounted,
                                                   const std::optional<plan::Bench>& bench) {
    std::erase_if(run.flags, [&](const plan::Flag& flag) {
        return flag.code == FlagCode::induced_not_charged ||
               (mounted != Mounted::standard && flag.code == FlagCode::curve_waits);
    });
    if (!bench || !bench->check) return {};
    const decay::Figures& figures = run.figures;
    bench::CheckReading reading{{mounted, figures.polarity, false, false, {}}, figures.zero_V, 0, 0, {}};
    if (figures.held_V && figures.electrode_V) {
        reading.held_V = *figures.held_V;
        reading.electrode_V = std::abs(*figures.electrode_V);
    }
    for (const decay::LevelFigure& level : figures.levels)
        if (same_level(level.level, bench->check->standard_level) &&
            level.status == decay::LevelStatus::measured)
            reading.decay_s = level.decay_s;
    std::vector<bench::CheckFigure> out = bench::figures_of({reading}, *bench, *bench->check);
    const bool proven =
        std::ranges::find(run.flags, FlagCode::zero_unproven, &plan::Flag::code) == run.flags.end();
    std::erase_if(out, [&](const bench::CheckFigure& figure) {
        if (figure.name == "zero") return !proven;
        return figure.name != figure_of(mounted) || figure.polarity != figures.polarity;
    });
    std::string outside;
    for (const bench::CheckFigure& figure : out)
        if (!figure.within()) outside += (outside.empty() ? "" : "; ") + figure.words();
    if (!outside.empty())
        run.flags.emplace_back(
            FlagCode::bench_check_failed,
            fmt::format("Not what the bench file says ({}): {}.", plan::label_of(mounted), outside));
    return out;
}

}  // namespace ebbtide::work
