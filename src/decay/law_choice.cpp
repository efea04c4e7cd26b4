#include "decay/law_choice.hpp"

#include <algorithm>
#include <cmath>
#include <limits>

#include "decay/adequacy.hpp"
#include "decay/akaike.hpp"
#include "decay/noise.hpp"
#include "fit/robust.hpp"

namespace ebbtide::decay {
namespace {

bool evenly_spaced(std::span<const double> x) {
    const double interval = (x.back() - x.front()) / static_cast<double>(x.size() - 1);
    for (std::size_t i = 1; i < x.size(); ++i)
        if (std::abs(x[i] - x[i - 1] - interval) > 0.2 * interval) return false;
    return interval > 0;
}

/// Samples for each independent one, by the noise alone: a wrong law's residuals look correlated over the
/// whole record. The noise is from third differences, which know nothing of any law; `best` says only where
/// the curve is too steep for them. Nothing for few or unevenly spaced samples.
std::optional<double> samples_for_one(const LawModel& best, const fit::Curve& curve) {
    if (curve.size() < 64 || !evenly_spaced(curve.x)) return std::nullopt;
    const std::vector<double> shape = best.fit.shape(best.law);
    const fit::Parameter* offset = best.fit.find("offset_V");
    NoiseEvidence evidence;
    evidence.fall = {curve.x, curve.y};
    evidence.fall_base_V = offset ? offset->value : best.law.constant;
    for (std::size_t k = 0; k < shape.size(); ++k)
        if (best.law.shape[k].scales_with_x)
            evidence.fall_scale_s =
                evidence.fall_scale_s > 0 ? std::min(evidence.fall_scale_s, shape[k]) : shape[k];
    std::vector<double> in_sigma;
    if (!curve.sigma.empty()) {
        // Divided by sigma the curve itself is no longer smooth, what the law leaves is.
        in_sigma = fit::values_of(best.law, best.fit.amplitudes(best.law), shape, curve.x);
        for (std::size_t i = 0; i < curve.size(); ++i)
            in_sigma[i] = (curve.y[i] - in_sigma[i]) / curve.sigma[i];
        evidence.fall.value = in_sigma;
        evidence.fall_base_V = 0;
    }
    const NoiseModel noise = estimate_noise(evidence);
    if (!(noise.sample_V() > 0)) return std::nullopt;
    const fit::LagNoise lags{noise.white_V, noise.band_V, noise.correlation_s};
    return lags.variance_ratio((curve.x.back() - curve.x.front()) / static_cast<double>(curve.size() - 1));
}

/// Where to begin under a lag: a law seen through a sensor costs many times the law itself, and while all its
/// time constants are well above the lag the valleys lie where those of the law itself do. Nothing otherwise.
std::optional<std::vector<double>> start_under_lag(const LawModel& model, const fit::Curve& curve,
                                                   const Offset& offset, const Circumstances& circumstances) {
    constexpr double well_above = 5;
    if (!(circumstances.lag_s > 0) || circumstances.hold_s) return std::nullopt;
    Circumstances undisturbed;
    undisturbed.modes = circumstances.modes;
    const fit::Law law = law_of(model.kind, offset, undisturbed);
    const fit::Fit found = fit::fit(law, curve, {fit::Scatter::from_residuals});
    if (!found.ok()) return std::nullopt;
    const std::vector<double> shape = found.shape(law);
    for (std::size_t k = 0; k < shape.size(); ++k)
        if (law.shape[k].scales_with_x && shape[k] < well_above * circumstances.lag_s) return std::nullopt;
    return shape;
}

std::vector<LawModel> fitted(const fit::Curve& curve, const std::vector<LawKind>& kinds, const Offset& offset,
                             fit::Scatter scatter, const Circumstances& circumstances) {
    std::vector<LawModel> out;
    for (const LawKind kind : kinds) {
        LawModel model{.kind = kind, .law = law_of(kind, offset, circumstances)};
        if (const auto start = start_under_lag(model, curve, offset, circumstances))
            model.fit = fit::fit_from(model.law, curve, {scatter}, *start);
        if (!model.fit.ok()) model.fit = fit::fit(model.law, curve, {scatter});
        out.push_back(std::move(model));
    }
    return out;
}

const LawModel* best_of(const std::vector<LawModel>& models) {
    const LawModel* best = nullptr;
    for (const LawModel& model : models)
        if (model.fit.ok() && (!best || model.fit.rss < best->fit.rss)) best = &model;
    return best;
}

}  // namespace

LawChoice choose_law(const fit::Curve& given, const std::vector<LawKind>& kinds, const Offset& offset,
                     fit::Scatter scatter, const Circumstances& circumstances, bool robust) {
    LawChoice out;
    out.scatter = scatter;
    out.models = fitted(given, kinds, offset, scatter, circumstances);
    const LawModel* best = best_of(out.models);
    if (!best) return out;
    fit::CurveStore kept = fit::sorted(given);
    // With the law's own value in place of a spike the even spacing of the samples is not lost.
    fit::CurveStore mended = kept;
    if (robust) {
        const fit::RobustFit about_best = fit::fit_robust(best->law, given, {scatter});
        if (!about_best.lost.empty()) {
            out.lost = about_best.lost;
            const std::vector<double> values = fit::values_of(best->law, about_best.fit.amplitudes(best->law),
                                                              about_best.fit.shape(best->law), given.x);
            std::vector<double> y(given.y.begin(), given.y.end());
            for (const std::size_t i : out.lost) y[i] = values[i];
            mended = fit::sorted({given.x, y, given.sigma});
            kept = fit::sorted(fit::without(given, out.lost).view());
            out.models = fitted(kept.view(), kinds, offset, scatter, circumstances);
            best = best_of(out.models);
            if (!best) return out;
        }
    }

    const std::optional<double> for_one = samples_for_one(*best, mended.view());
    out.effective_samples =
        for_one ? static_cast<double>(kept.x.size()) / *for_one : best->fit.effective_points;
    double y_square = 0;
    for (std::size_t i = 0; i < kept.y.size(); ++i) {
        const double y = kept.y[i] / (kept.sigma.empty() ? 1 : kept.sigma[i]);
        y_square += y * y;
    }
    const double rounding = std::numeric_limits<double>::epsilon();
    const double rss_floor = std::max(rounding * rounding * y_square, std::numeric_limits<double>::min());
    std::vector<std::optional<double>> criteria;
    for (std::size_t i = 0; i < out.models.size(); ++i) {
        LawModel& model = out.models[i];
        criteria.emplace_back();
        if (!model.fit.ok()) continue;
        criteria.back() = akaike_criterion(
            {std::max(model.fit.rss, rss_floor), model.fit.points, model.fit.parameters.size()},
            out.effective_samples);
        if (model.fit.determined()) model.aicc = criteria.back();
        if (model.aicc && (!out.chosen || *model.aicc < *out.models[*out.chosen].aicc)) out.chosen = i;
    }
    const std::vector<double> weights = akaike_weights(criteria);
    for (std::size_t i = 0; i < out.models.size(); ++i) out.models[i].weight = weights[i];

    if (!out.chosen) return out;
    const LawModel& chosen = out.models[*out.chosen];
    if (const auto adequacy = judge_adequacy(chosen.law, chosen.fit, kept.view())) {
        out.adequate = adequacy->adequate;
        out.doubt = adequacy->doubt;
    }
    return out;
}

const LawModel* leading(const LawChoice& choice) {
    if (choice.chosen) return &choice.models[*choice.chosen];
    const LawModel* out = nullptr;
    for (const LawModel& model : choice.models)
        if (model.fit.ok() && (!out || model.weight > out->weight)) out = &model;
    return out;
}

}  // namespace ebbtide::decay
