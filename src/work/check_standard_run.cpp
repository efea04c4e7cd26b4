#include "work/check_standard_run.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "bench/bench_check.hpp"

namespace ebbtide::work {

std::optional<plan::Flag> standard_flag(const decay::Figures& figures, const plan::CheckLimits& limits) {
    bench::CheckFigure figure{"standard_decay",
                              figures.polarity,
                              "s",
                              {},
                              limits.standard_decay_s * (1 - limits.standard_tolerance),
                              limits.standard_decay_s * (1 + limits.standard_tolerance)};
    for (const decay::LevelFigure& level : figures.levels)
        if (level.level.kind == limits.standard_level.kind &&
            level.level.value == limits.standard_level.value && level.status == decay::LevelStatus::measured)
            figure.value = level.decay_s;
    if (figure.within()) return std::nullopt;
    return plan::Flag(plan::FlagCode::bench_check_failed,
                      fmt::format("the check standard's decay time to {} is not the known one: {}.",
                                  limits.standard_level.label(), figure.words()));
}

}  // namespace ebbtide::work
