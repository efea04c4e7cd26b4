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

}  // namespace

MeasureRequest reference_request(Mounted mounted, const std::optional<plan::Bench>& bench) {
    MeasureRequest request{usual_rules(), bench};
    if (mounted != Mounted::standard || !bench || !bench->check) return request;
    plan::add_once(request.rules.levels, bench->check->standard_level);
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
        if (level.level.same_as(bench->check->standard_level) && level.status == decay::LevelStatus::measured)
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
