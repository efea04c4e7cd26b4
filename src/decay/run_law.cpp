#include "decay/run_law.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "basis/number_text.hpp"
#include "decay/cross_section.hpp"
#include "decay/extrapolation.hpp"
#include "decay/law_choice.hpp"
#include "decay/noise.hpp"
#include "decay/pulse_sides.hpp"
#include "fit/robust.hpp"

namespace ebbtide::decay {
namespace {

constexpr std::size_t most_samples = 20000;     // laws are smooth: beyond, means of neighbours say the same
constexpr double means_per_fall = 400;          // at least, in the time in which the fall covers a factor e
constexpr std::size_t residual_stretches = 48;  // narrow where the fall is steep
constexpr int drawn_steps = 240;
constexpr double drawn_growth = 8;  // the first step is 1/45,000 of the fall, the last 1/30
constexpr double least_fall = 0.8;  // what may be left at most
constexpr double short_hold = 5;    // time constants

/// Means of `each` neighbours; the rest at the end is left out.
fit::CurveStore means_of(const fit::CurveStore& samples, std::size_t each) {
    if (each < 2) return samples;
    fit::CurveStore out;
    for (std::size_t i = 0; i + each <= samples.x.size(); i += each) {
        double x = 0, y = 0;
        for (std::size_t k = i; k < i + each; ++k) {
            x += (samples.x[k] - samples.x[i]) / static_cast<double>(each);
            y += samples.y[k] / static_cast<double>(each);
        }
        out.x.push_back(samples.x[i] + x);
        out.y.push_back(y);
    }
    return out;
}

/// Samples of the specimen, seconds from `origin_s`, volts after zero and sign.
fit::CurveStore curve_of(const RunTrace& run, const Figures& figures, double origin_s, double from_s,
                         double to_s) {
    const trace::Samples part =
        run.specimen.between(origin_s + from_s, std::nextafter(origin_s + to_s, INFINITY));
    fit::CurveStore out;
    out.x.reserve(part.size());
    out.y.reserve(part.size());
    for (std::size_t i = 0; i < part.size(); ++i) {
        out.x.push_back(part.time_s[i] - origin_s);
        out.y.push_back(run.sign * (part.value[i] - figures.zero_V));
    }
    return out;
}

fit::CurveStore thinned(const fit::CurveStore& samples, double fall_scale_s) {
    const double count = static_cast<double>(samples.x.size());
    if (count <= most_samples) return samples;
    const double length_s = samples.x.back() - samples.x.front();
    const double by_shape = fall_scale_s > 0 ? fall_scale_s * count / (means_per_fall * length_s) : 1;
    return means_of(samples,
                    static_cast<std::size_t>(std::max(1.0, std::min(count / most_samples, by_shape))));
}

/// What the sensor shows of a full charge while it is held, over what the specimen keeps at the release.
double start_ratio_of(const Figures& figures, const plan::Bench& bench, bool charged_shortly) {
    const auto induced = bench.induced_fraction(figures.polarity == plan::Polarity::positive);
    const double share = induced ? *induced : charged_shortly ? 0 : figures.prompt_drop.value_or(0);
    return share > 0 && share < 0.9 ? 1 / (1 - share) : 1;
}

bool has_clamps(const plan::Bench& bench) {
    return bench.apparatus == plan::Apparatus::clamp_discharge;
}

Circumstances circumstances_of(const RunTrace& run, const Figures& figures,
                               const std::optional<plan::Bench>& bench, const LawQuestion& question) {
    Circumstances out;
    const bool clamps = !bench || has_clamps(*bench);
    // Without the electrode's voltage nobody knows that the charge began from nothing.
    if (clamps && run.electrode && figures.charging_s && *figures.charging_s > 0 &&
        *figures.charging_s < short_hold * figures.fall_scale_s)
        out.hold_s = figures.charging_s;
    if (!bench) return out;
    out.modes = question.modes ? question.modes : modes_of(*bench);
    if (!release_is_known(figures)) return out;
    out.lag_s = bench->sensor.lag_s;
    if (clamps) out.start_ratio = start_ratio_of(figures, *bench, out.hold_s.has_value());
    return out;
}

/// Means of stretches that widen from the start of the curve on.
std::vector<ResidualPoint> residuals_of(const LawModel& model, const fit::Curve& curve,
                                        const NoiseModel& noise) {
    const std::vector<double> law =
        fit::values_of(model.law, model.fit.amplitudes(model.law), model.fit.shape(model.law), curve.x);
    const double from_s = curve.x.front(), length_s = curve.x.back() - from_s;
    std::vector<ResidualPoint> out;
    std::size_t first = 0;
    for (std::size_t k = 1; k <= residual_stretches && first < curve.size(); ++k) {
        const double share = static_cast<double>(k) / residual_stretches;
        const double end_s = from_s + length_s * share * share;
        std::size_t last = first;
        ResidualPoint point;
        while (last < curve.size() && (curve.x[last] < end_s || k == residual_stretches)) {
            point.time_s += curve.x[last];
            point.law_V += law[last];
            point.residual_V += curve.y[last] - law[last];
            ++last;
        }
        if (last == first) continue;
        point.time_s /= static_cast<double>(last - first);
        point.law_V /= static_cast<double>(last - first);
        point.residual_V /= static_cast<double>(last - first);
        point.u_V = noise.of_mean(curve.x.subspan(first, last - first));
        out.push_back(point);
        first = last;
    }
    return out;
}

/// The law where a line through its points looks like it, also when the first hundredth of the fall is
/// magnified: even steps at first, then steps that grow with the time that went by.
std::vector<LawPoint> drawn_law(const LawModel& model, double from_s, double to_s) {
    std::vector<double> time_s;
    for (int k = 0; k <= drawn_steps; ++k)
        time_s.push_back(from_s + (to_s - from_s) *
                                      std::sinh(drawn_growth * static_cast<double>(k) / drawn_steps) /
                                      std::sinh(drawn_growth));
    const std::vector<double> law =
        fit::values_of(model.law, model.fit.amplitudes(model.law), model.fit.shape(model.law), time_s);
    std::vector<LawPoint> out;
    for (std::size_t k = 0; k < law.size(); ++k) out.push_back({time_s[k], law[k]});
    return out;
}

LawFigures figures_from(const LawChoice& choice, const fit::Curve& given,
                        const std::vector<plan::Level>& levels, const StartLevel& start,
                        const std::optional<NoiseModel>& known_noise) {
    LawFigures out;
    out.from_s = given.x.front();
    out.to_s = given.x.back();
    out.samples = given.size() - choice.lost.size();
    out.effective_samples = choice.effective_samples;
    out.chosen = choice.chosen;
    out.adequate = choice.adequate;
    out.doubt = choice.doubt;
    const fit::CurveStore kept = choice.lost.empty() ? fit::CurveStore{} : fit::without(given, choice.lost);
    const fit::Curve curve = choice.lost.empty() ? given : kept.view();
    const Extrapolation beyond = extrapolate(choice, curve, levels, start);
    out.extrapolated = beyond.averaged;
    for (std::size_t i = 0; i < choice.models.size(); ++i) {
        const LawModel& model = choice.models[i];
        LawCandidate candidate{.kind = model.kind,
                               .outcome = model.fit.outcome,
                               .reason = model.fit.reason,
                               .merged = model.fit.merged,
                               .parameters = model.fit.parameters,
                               .aicc = model.aicc,
                               .weight = model.weight};
        if (!model.fit.parameters.empty()) candidate.rss = model.fit.rss;
        if (i < beyond.by_model.size()) candidate.extrapolated = beyond.by_model[i];
        out.candidates.push_back(std::move(candidate));
    }
    const LawModel* shown = leading(choice);
    if (!shown) {
        out.missing = choice.models.empty() ? "no law was asked for" : choice.models.front().fit.reason;
        return out;
    }
    NoiseModel noise = known_noise.value_or(NoiseModel{});
    if (!known_noise && shown->fit.noise)
        noise = {shown->fit.noise->white, shown->fit.noise->band, shown->fit.noise->correlation};
    out.residuals = residuals_of(*shown, curve, noise);
    out.curve = drawn_law(*shown, out.from_s, out.to_s);
    return out;
}

/// When the electrode had gone through a half of its rise before the release, and how long it took from a
/// twentieth to nineteen.
struct Rise {
    double middle_s = 0, lasts_s = 0;
};
std::optional<Rise> rise_of(const trace::Samples& electrode, double base_V, double height_V,
                            double release_s) {
    const auto first_at = [&](double share) {
        for (std::size_t i = 0; i < electrode.size() && electrode.time_s[i] < release_s; ++i)
            if (std::abs(electrode.value[i] - base_V) >= share * height_V) return electrode.time_s[i];
        return release_s;
    };
    const double low_s = first_at(0.05), middle_s = first_at(0.5), high_s = first_at(0.95);
    if (!(high_s < release_s) || !(low_s > electrode.time_s.front())) return {};
    return Rise{middle_s, high_s - low_s};
}

/// Until when the electrode stood: two samples in a row a tenth below its height end it. Behind that nobody
/// can expect a mirror of the fall.
double stands_until(const trace::Samples& electrode, double base_V, double height_V, double from_s,
                    double release_s) {
    std::optional<double> left_s;
    for (std::size_t i = 0; i < electrode.size() && electrode.time_s[i] < release_s; ++i) {
        if (electrode.time_s[i] < from_s) continue;
        const bool stands = std::abs(electrode.value[i] - base_V) >= 0.9 * height_V;
        if (!stands && left_s) return *left_s;
        left_s = stands ? std::nullopt : std::optional(electrode.time_s[i]);
    }
    return release_s;
}

ComparedSides sides_of(const RunTrace& run, const Figures& figures, const LawModel& model,
                       const Circumstances& circumstances, const fit::Curve& fall) {
    if (run.starts_charged || !figures.charging_s) return {{}, "the charging side was not recorded"};
    if (!run.electrode || run.electrode->size() < 3) return {{}, "no electrode voltage was recorded"};
    const auto rise = rise_of(*run.electrode, run.base, run.height, figures.release_s);
    if (!rise) return {{}, "the electrode's way up was not recorded whole"};
    // The rise itself is no part of the charging curve, nor is what bounces just before the release.
    const double stands_s =
        stands_until(*run.electrode, run.base, run.height, rise->middle_s + rise->lasts_s, figures.release_s);
    const double from_s = rise->lasts_s, to_s = 0.98 * (stands_s - rise->middle_s);
    if (!(to_s > from_s)) return {{}, "the electrode did not stand long enough"};
    const fit::CurveStore charging =
        thinned(curve_of(run, figures, rise->middle_s, from_s, to_s), figures.fall_scale_s);
    return compare_sides(model, circumstances, fall, charging.view(), rise->lasts_s);
}

/// Symmetric in log time, as the intervals of time constants are.
void take_extrapolated(LevelFigure& figure, const Extrapolated& beyond) {
    if (!beyond.decay_s || !beyond.low_s || !beyond.high_s) return;
    const double u_s = *beyond.decay_s * std::log(*beyond.high_s / *beyond.low_s) / (2 * 1.96);
    if (!(u_s > 0) || !std::isfinite(u_s)) return;
    figure.status = LevelStatus::extrapolated;
    figure.beyond = beyond;
    figure.decay_s = beyond.decay_s;
    figure.u_decay_s = u_s;
    figure.budget = {{"extrapolation by the laws", u_s, "s", 1, {}, Scope::run, ""}};
}

std::string how_sides_differ(const PulseSides& sides) {
    const std::string fall_s = significant_text(sides.falling_time_s, 3);
    const std::string left = fmt::format("the mirrored fall leaves {} % of it unexplained (root mean square)",
                                         fixed_text(100 * sides.left, 1));
    if (!sides.difference)
        return fmt::format("The charging side has another shape: {}; 1/e after {} s in the fall.", left,
                           fall_s);
    return fmt::format("1/e after {} s on the charging side, {} s in the fall: {} % apart, u = {} %; {}.",
                       significant_text(*sides.charging_time_s, 3), fall_s,
                       fixed_text(100 * *sides.difference, 1), fixed_text(100 * *sides.u_difference, 1),
                       left);
}

}  // namespace

bool release_is_known(const Figures& figures) {
    return figures.release_source == ReleaseSource::electrode_fall ||
           figures.release_source == ReleaseSource::marker ||
           figures.release_source == ReleaseSource::field_step;
}

fit::CurveStore fall_of(const RunTrace& run, const Figures& figures,
                        const std::optional<plan::Bench>& bench) {
    double from_s = figures.fall_from_s;
    // What a lagging sensor saw after a release that only it saw is not known: wait until it has forgotten.
    if (bench && !release_is_known(figures)) from_s += 3 * bench->sensor.lag_s;
    return thinned(curve_of(run, figures, figures.release_s, from_s, figures.record_s), figures.fall_scale_s);
}

std::optional<sheet::Modes> modes_of(const plan::Bench& bench) {
    const auto across = has_clamps(bench) ? cross_section_of(bench.fixture) : std::nullopt;
    return across ? sheet::hanging_modes(*across) : std::nullopt;
}

void add_law(Figures& figures, const RunTrace& run, const plan::DecayRules& rules,
             const std::optional<plan::Bench>& bench, const LawQuestion& question) {
    figures.law = law_figures_of(run, figures, bench, question);
    const LawFigures& law = *figures.law;
    const bool doubted = law.adequate == false;
    if (doubted) figures.flags.emplace_back(plan::FlagCode::no_law, law.doubt);
    if (law.sides && !law.sides->agree)
        figures.flags.emplace_back(plan::FlagCode::sides_differ, how_sides_differ(*law.sides));
    // Times from a start level of their own would need both ends extrapolated.
    if (!rules.extrapolation_allowed || rules.from || doubted || !law.chosen) return;
    for (LevelFigure& figure : figures.levels) {
        if (figure.status != LevelStatus::not_reached) continue;
        for (const Extrapolated& beyond : law.extrapolated)
            if (beyond.level == figure.level) take_extrapolated(figure, beyond);
    }
}

LawFigures law_figures_of(const RunTrace& run, const Figures& figures,
                          const std::optional<plan::Bench>& bench, const LawQuestion& question) {
    LawFigures out;
    if (!figures.initial_voltage_V) {
        out.missing = "there is no initial voltage";
        return out;
    }
    if (figures.remaining_fraction && *figures.remaining_fraction > least_fall) {
        out.missing = "less than a fifth of the voltage fell: that bends too little to tell laws apart";
        return out;
    }
    const Circumstances circumstances = circumstances_of(run, figures, bench, question);
    const fit::CurveStore fall = fall_of(run, figures, bench);
    if (fall.x.size() < 8 || !(fall.x.back() > fall.x.front())) {
        out.missing = "fewer than eight samples of the fall";
        return out;
    }
    const std::vector<LawKind> kinds =
        question.kinds.empty() ? law_kinds_under(circumstances) : question.kinds;
    const LawChoice choice = choose_law(fall.view(), kinds, question.offset,
                                        fit::Scatter::correlated_residuals, circumstances, question.robust);
    std::vector<plan::Level> levels;
    for (const LevelFigure& level : figures.levels)
        if (level.status == LevelStatus::not_reached) levels.push_back(level.level);
    NoiseModel noise;
    (figures.noise_correlation_s > 0 ? noise.band_V : noise.white_V) = figures.noise_V;
    noise.correlation_s = figures.noise_correlation_s;
    out = figures_from(choice, fall.view(), levels, {figures.initial_voltage_V, figures.u_initial_voltage_V},
                       noise);
    out.lag_s = circumstances.lag_s;
    out.hold_s = circumstances.hold_s;
    if (choice.chosen) {
        auto compared = sides_of(run, figures, choice.models[*choice.chosen], circumstances, fall.view());
        out.sides = compared.sides;
        out.sides_missing = std::move(compared.missing);
    }
    return out;
}

LawFigures law_figures_of(const fit::Curve& given, const std::vector<plan::Level>& levels,
                          const LawQuestion& question, fit::Scatter scatter) {
    fit::CurveStore ordered;
    fit::Curve curve = given;
    if (given.x.size() == given.y.size() && !std::ranges::is_sorted(given.x)) {
        ordered = fit::sorted(given);
        curve = ordered.view();
    }
    LawFigures out;
    if (curve.size() == 0) {
        out.missing = "there are no points";
        return out;
    }
    const std::vector<LawKind> kinds = question.kinds.empty() ? law_kinds_under({}) : question.kinds;
    const LawChoice choice = choose_law(curve, kinds, question.offset, scatter, {}, question.robust);
    return figures_from(choice, curve, levels, {}, {});
}

}  // namespace ebbtide::decay
