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

/// Flags that speak of a specimen's charge, where none hung there.
void forget_specimen(MeasuredRun& run, Mounted mounted) {
    std::erase_if(run.flags, [&](const plan::Flag& flag) {
        return flag.code == FlagCode::induced_not_charged ||
               (mounted != Mounted::standard && flag.code == FlagCode::curve_waits);
    });
}

}  // namespace

MeasureRequest reference_request(Mounted mounted, const std::optional<plan::Bench>& bench) {
    MeasureRequest request{usual_rules(), bench};
    if (mounted != Mounted::standard || !bench || !bench->check) return request;
    plan::add_once(request.rules.levels, bench->check->standard_level);
    return request;
}

bench::CheckReading reading_of(MeasuredRun& run, const bench::CheckStep& step,
                               const plan::CheckLimits& limits) {
    forget_specimen(run, step.mounted);
    const decay::Figures& figures = run.figures;
    bench::CheckReading reading{step, figures.zero_V, 0, 0, {}};
    if (figures.held_V && figures.electrode_V) {
        reading.held_V = *figures.held_V;
        reading.electrode_V = std::abs(*figures.electrode_V);
    }
    for (const decay::LevelFigure& level : figures.levels)
        if (level.level.same_as(limits.standard_level) && level.status == decay::LevelStatus::measured)
            reading.decay_s = level.decay_s;
    return reading;
}

std::vector<bench::CheckFigure> hold_against_check(MeasuredRun& run, Mounted mounted,
                                                   const std::optional<plan::Bench>& bench) {
    if (!bench || !bench->check) {
        forget_specimen(run, mounted);
        return {};
    }
    const decay::Figures& figures = run.figures;
    const bench::CheckReading reading =
        reading_of(run, {mounted, figures.polarity, false, false, {}}, *bench->check);
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
