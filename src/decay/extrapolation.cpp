#include "decay/extrapolation.hpp"

#include <algorithm>
#include <cmath>
#include <memory>

#include "fit/passage.hpp"

namespace ebbtide::decay {
namespace {

/// Where the curve stands at its end, by a straight line through its last samples: a twentieth of them, and
/// no fewer than four.
double end_of(const fit::Curve& curve) {
    const std::size_t count = std::min(curve.size(), std::max<std::size_t>(4, curve.size() / 20));
    const std::size_t first = curve.size() - count;
    double mean_x = 0, mean_y = 0, square = 0, product = 0;
    for (std::size_t i = first; i < curve.size(); ++i) {
        mean_x += (curve.x[i] - curve.x.back()) / static_cast<double>(count);
        mean_y += curve.y[i] / static_cast<double>(count);
    }
    for (std::size_t i = first; i < curve.size(); ++i) {
        const double x = curve.x[i] - curve.x.back() - mean_x;
        square += x * x;
        product += x * (curve.y[i] - mean_y);
    }
    return square > 0 ? mean_y - mean_x * product / square : mean_y;
}

double start_of(const LawModel& model) {
    return fit::values_of(model.law, model.fit.amplitudes(model.law), model.fit.shape(model.law),
                          std::vector<double>{0})
        .front();
}

fit::Condition condition_of(const plan::Level& level, const StartLevel& start, double sign) {
    fit::Condition out{.falling = sign > 0};
    if (level.kind == plan::Level::Kind::absolute_V) {
        out.target = sign * level.value;
    } else if (start.V) {
        out.target = level.value * *start.V;
        out.u_target = level.value * start.u_V;
    } else {
        out.share_of_start = level.value;
    }
    return out;
}

/// What one law allows, and how much it counts.
struct Vote {
    double weight = 0;
    fit::Passage passage;
};

/// The time before which the passage lies with this chance, over all laws; nothing when it may well never
/// come. By halving the logarithm.
std::optional<double> time_of_chance(const std::vector<Vote>& votes, double chance, double last_s) {
    const auto chance_before = [&](double log_t) {
        double sum = 0;
        for (const Vote& vote : votes) sum += vote.weight * vote.passage.chance_before(std::exp(log_t));
        return sum;
    };
    double low = std::log(last_s), high = std::log(last_s * fit::Passages::farthest);
    if (chance_before(low) >= chance) return last_s;
    if (chance_before(high) < chance) return std::nullopt;
    for (int halving = 0; halving < 60; ++halving) {
        const double middle = (low + high) / 2;
        (chance_before(middle) < chance ? low : high) = middle;
    }
    return std::exp(high);
}

Extrapolated average(const plan::Level& level, std::vector<Vote> votes, double last_s) {
    Extrapolated out{.level = level};
    double sum = 0;
    for (const Vote& vote : votes) sum += vote.weight;
    if (!(sum > 0)) return out;
    for (Vote& vote : votes) vote.weight /= sum;
    out.decay_s = time_of_chance(votes, 0.5, last_s);
    out.low_s = time_of_chance(votes, 0.025, last_s);
    if (out.low_s == last_s) out.low_s.reset();
    out.high_s = time_of_chance(votes, 0.975, last_s);
    return out;
}

}  // namespace

Extrapolation extrapolate(const LawChoice& choice, const fit::Curve& given,
                          const std::vector<plan::Level>& levels, const StartLevel& start) {
    Extrapolation out;
    out.by_model.resize(choice.models.size());
    const LawModel* first = leading(choice);
    if (!first || given.size() < 2) return out;
    fit::CurveStore ordered;
    fit::Curve curve = given;
    if (!std::ranges::is_sorted(given.x)) {
        ordered = fit::sorted(given);
        curve = ordered.view();
    }
    const double last_s = curve.x.back(), end_V = end_of(curve);
    if (!(last_s > 0)) return out;
    const double start_V = start.V.value_or(start_of(*first)), sign = start_V < 0 ? -1 : 1;

    std::vector<plan::Level> beyond;
    for (const plan::Level& level : levels)
        if (sign * end_V > level.volts(std::abs(start_V))) beyond.push_back(level);
    std::vector<std::vector<Vote>> votes(beyond.size());
    for (std::size_t m = 0; m < choice.models.size(); ++m) {
        const LawModel& model = choice.models[m];
        if (!model.fit.ok() || beyond.empty()) continue;
        fit::Passages passages(model.law, curve, model.fit, choice.scatter);
        for (std::size_t k = 0; k < beyond.size(); ++k) {
            const fit::Passage passage = passages.of(condition_of(beyond[k], start, sign));
            out.by_model[m].push_back({beyond[k], passage.x, passage.low, passage.high});
            if (!passage.shape.empty()) votes[k].push_back({model.weight, passage});
        }
    }
    for (std::size_t k = 0; k < beyond.size(); ++k)
        out.averaged.push_back(average(beyond[k], std::move(votes[k]), last_s));
    return out;
}

}  // namespace ebbtide::decay
