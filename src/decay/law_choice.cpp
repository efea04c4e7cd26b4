#include "decay/law_choice.hpp"

#include <algorithm>
#include <boost/math/distributions/chi_squared.hpp>
#include <cmath>
#include <limits>

#include "decay/akaike.hpp"
#include "decay/noise.hpp"

namespace ebbtide::decay {
namespace {

constexpr std::size_t blocks = 24;  // of the record, whose mean residuals are looked at
constexpr double chance = 0.001;

bool determined(const fit::Fit& fit) {
    return fit.ok() && fit.told_apart && std::ranges::all_of(fit.parameters, [](const fit::Parameter& p) {
               return p.standing == fit::Standing::free || p.standing == fit::Standing::held;
           });
}

bool evenly_spaced(std::span<const double> x) {
    const double interval = (x.back() - x.front()) / static_cast<double>(x.size() - 1);
    for (std::size_t i = 1; i < x.size(); ++i)
        if (std::abs(x[i] - x[i - 1] - interval) > 0.2 * interval) return false;
    return interval > 0;
}

/// The noise from third differences of the samples, which know nothing of any law; `model` says only where
/// the curve is too steep for them. Nothing for few or unevenly spaced samples.
std::optional<NoiseModel> noise_of(const LawModel& model, const fit::Curve& curve) {
    if (curve.size() < 64 || !evenly_spaced(curve.x)) return std::nullopt;
    const std::vector<double> shape = model.fit.shape(model.law);
    const fit::Parameter* offset = model.fit.find("offset_V");
    NoiseEvidence evidence;
    evidence.fall = {curve.x, curve.y};
    evidence.fall_base_V = offset ? offset->value : model.law.constant;
    for (std::size_t k = 0; k < shape.size(); ++k)
        if (model.law.shape[k].scales_with_x)
            evidence.fall_scale_s =
                evidence.fall_scale_s > 0 ? std::min(evidence.fall_scale_s, shape[k]) : shape[k];
    NoiseModel noise = estimate_noise(evidence);
    if (!(noise.sample_V() > 0)) return std::nullopt;
    return noise;
}

/// Mean residuals of blocks against the noise of such means.
bool adequate(const LawModel& model, const fit::Curve& curve, const NoiseModel& noise) {
    const std::vector<double> law =
        fit::values_of(model.law, model.fit.amplitudes(model.law), model.fit.shape(model.law), curve.x);
    double sum = 0;
    for (std::size_t b = 0; b < blocks; ++b) {
        const std::size_t first = b * curve.size() / blocks, last = (b + 1) * curve.size() / blocks;
        double mean = 0;
        for (std::size_t i = first; i < last; ++i) mean += curve.y[i] - law[i];
        mean /= static_cast<double>(last - first);
        const double u = noise.of_mean(curve.x.subspan(first, last - first));
        sum += mean * mean / (u * u);
    }
    // The noise itself is known to a relative variance of 2 / degrees of freedom.
    const boost::math::chi_squared blocks_only(static_cast<double>(blocks));
    const double limit = boost::math::quantile(boost::math::complement(blocks_only, chance));
    return sum <= limit * (1 + 3 * std::sqrt(2 / std::max(1.0, noise.degrees_of_freedom)));
}

}  // namespace

LawChoice choose_law(const fit::Curve& given, const std::vector<LawKind>& kinds, const Offset& offset,
                     fit::Scatter scatter, const Circumstances& circumstances, bool /*robust*/) {
    fit::CurveStore ordered;
    fit::Curve curve = given;
    if (!std::ranges::is_sorted(given.x) && given.x.size() == given.y.size()) {
        ordered = fit::sorted(given);
        curve = ordered.view();
    }
    LawChoice out;
    out.scatter = scatter;
    for (const LawKind kind : kinds) {
        LawModel model{.kind = kind, .law = law_of(kind, offset, circumstances)};
        model.fit = fit::fit(model.law, curve, {scatter});
        out.models.push_back(std::move(model));
    }
    const LawModel* best = nullptr;
    for (const LawModel& model : out.models)
        if (model.fit.ok() && (!best || model.fit.rss < best->fit.rss)) best = &model;
    if (!best) return out;
    const std::optional<NoiseModel> noise = noise_of(*best, curve);
    out.effective_samples = best->fit.effective_points;
    if (noise) {
        // A wrong law's residuals look correlated over the whole record; the samples' own noise does not.
        const auto points = static_cast<double>(curve.size());
        const fit::LagNoise lags{noise->white_V, noise->band_V, noise->correlation_s};
        out.effective_samples =
            points / lags.variance_ratio((curve.x.back() - curve.x.front()) / (points - 1));
    }
    double y_square = 0;
    for (const double y : curve.y) y_square += y * y;
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
        if (determined(model.fit)) model.aicc = criteria.back();
        if (model.aicc && (!out.chosen || *model.aicc < *out.models[*out.chosen].aicc)) out.chosen = i;
    }
    const std::vector<double> weights = akaike_weights(criteria);
    for (std::size_t i = 0; i < out.models.size(); ++i) out.models[i].weight = weights[i];
    if (out.chosen && noise) out.adequate = adequate(out.models[*out.chosen], curve, *noise);
    return out;
}

}  // namespace ebbtide::decay
