#include "report/lot_plot.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "report/scale.hpp"
#include "stats/distributions.hpp"
#include "stats/turnbull.hpp"

namespace ebbtide::report {
namespace {

constexpr double plot_left = 34, plot_right_room = 60, plot_top = 14, plot_height = 150,
                 plot_bottom_room = 24;
constexpr double type_size = 6.5;

struct Frame {
    Scale x, y;
};

void draw_frame(Picture& picture, const Frame& frame, const std::string& below, const std::string& beside) {
    const double bottom = frame.y.at(frame.y.low()), right = frame.x.at(frame.x.high());
    picture.line({plot_left, bottom}, {right, bottom}, Tint::muted, 0.4);
    picture.line({plot_left, bottom}, {plot_left, plot_top}, Tint::muted, 0.4);
    for (const Tick& tick : frame.x.ticks(8)) {
        picture.line({frame.x.at(tick.value), bottom}, {frame.x.at(tick.value), bottom + 2.5}, Tint::muted,
                     0.4);
        picture.shapes.emplace_back(
            Label{{frame.x.at(tick.value), bottom + 9.5}, tick.text, Tint::muted, Anchor::middle});
    }
    picture.shapes.emplace_back(Label{{right, bottom + 19}, below, Tint::muted, Anchor::end});
    picture.shapes.emplace_back(Label{{0, plot_top - 6}, beside, Tint::muted});
}

void draw_level(Picture& picture, const Frame& frame, double at, const std::string& text) {
    picture.line({plot_left - 2.5, frame.y.at(at)}, {plot_left, frame.y.at(at)}, Tint::muted, 0.4);
    picture.shapes.emplace_back(
        Label{{plot_left - 4, frame.y.at(at) + type_size * 0.36}, text, Tint::muted, Anchor::end});
}

void draw_line_at(Picture& picture, const Frame& frame, double x, const std::string& text) {
    if (!frame.x.holds(x)) return;
    picture.line({frame.x.at(x), frame.y.at(frame.y.low())}, {frame.x.at(x), plot_top}, Tint::muted, 0.5,
                 Dash::dashed);
    picture.shapes.emplace_back(Label{{frame.x.at(x) + 2, plot_top + 5}, text, Tint::muted});
}

/// What is drawn of one portion of the distribution: where it lies and the place of its middle on the scale.
struct PlottedPortion {
    double from_s, to_s, z;
};

std::vector<PlottedPortion> portions_of(std::span<const stats::Observation> sample, double lowest_s) {
    std::vector<PlottedPortion> out;
    double before = 0;
    for (const stats::Portion& portion : stats::turnbull(sample).portions) {
        const double middle = before + portion.share / 2;
        before += portion.share;
        if (!portion.to || !(portion.share > 1e-6) || !(middle > 0 && middle < 1)) continue;
        out.push_back({std::max(portion.from, lowest_s), *portion.to, stats::normal_quantile(middle)});
    }
    return out;
}

/// The place of a lower bound: what is known to be shorter, as a share.
double z_of_bound(double at_least_s, std::span<const PlottedPortion> portions, double lowest_z) {
    double z = lowest_z;
    for (const PlottedPortion& one : portions)
        if (one.to_s <= at_least_s) z = one.z;
    return z;
}

}  // namespace

Picture probability_plot(std::span<const stats::Observation> sample, const stats::CensoredFit& lognormal,
                         std::optional<double> limit_s, const std::optional<MarkedBound>& bound,
                         double width) {
    double low_s = sample.front().value, high_s = low_s;
    const auto reach = [&](double time_s) {
        low_s = std::min(low_s, time_s);
        high_s = std::max(high_s, time_s);
    };
    for (const stats::Observation& one : sample) {
        reach(one.value);
        if (one.known == stats::Known::between) reach(one.upper);
    }
    // A limit or bound further than a decade off would leave the times no room.
    if (limit_s && *limit_s<10 * high_s&& * limit_s> low_s / 10) reach(*limit_s);
    if (bound && bound->upper_s < 10 * high_s) reach(bound->upper_s);
    low_s /= 1.25;
    high_s *= 1.25;

    constexpr double z_reach = 2.6;  // 0.5 to 99.5 %
    Picture picture;
    picture.width = width;
    picture.height = plot_top + plot_height + plot_bottom_room;
    const Frame frame{Scale(Scale::Kind::logarithmic, low_s, high_s, plot_left, width - plot_right_room),
                      Scale(Scale::Kind::linear, -z_reach, z_reach, plot_top + plot_height, plot_top)};
    draw_frame(picture, frame, "decay time, s", "share of the lot that takes at most so long");
    for (const double percent : {1.0, 5.0, 10.0, 25.0, 50.0, 75.0, 90.0, 95.0, 99.0})
        draw_level(picture, frame, stats::normal_quantile(percent / 100), fmt::format("{} %", percent));
    if (limit_s) draw_line_at(picture, frame, *limit_s, "limit");

    if (lognormal.fitted()) {
        const auto time_at = [&](double z) { return std::exp(lognormal.location + lognormal.scale * z); };
        const auto z_at = [&](double time_s) {
            return (std::log(time_s) - lognormal.location) / lognormal.scale;
        };
        const double from = std::clamp(z_at(low_s), -z_reach, z_reach),
                     to = std::clamp(z_at(high_s), -z_reach, z_reach);
        if (from < to) {
            picture.line({frame.x.at(frame.x.clamped(time_at(from))), frame.y.at(from)},
                         {frame.x.at(frame.x.clamped(time_at(to))), frame.y.at(to)}, Tint::ink, 0.6,
                         Dash::dashed);
            // The name stands at the end of its line: right of it, or left where the limit's own name is
            // there.
            const double end_x = frame.x.at(frame.x.clamped(time_at(to))), end_y = frame.y.at(to);
            const double past_limit = limit_s ? frame.x.at(frame.x.clamped(*limit_s)) - end_x : -1000;
            const bool left = past_limit >= -20 && past_limit < 60 && to >= z_reach;
            picture.shapes.emplace_back(Label{{end_x + (left ? -3 : 3), end_y + type_size * 0.36},
                                              "lognormal law",
                                              Tint::ink,
                                              left ? Anchor::end : Anchor::start});
        }
    }
    const std::vector<PlottedPortion> portions = portions_of(sample, low_s);
    for (const PlottedPortion& one : portions) {
        const double z = std::clamp(one.z, -z_reach, z_reach);
        if (one.from_s < one.to_s)
            picture.line({frame.x.at(one.from_s), frame.y.at(z)}, {frame.x.at(one.to_s), frame.y.at(z)},
                         Tint::ink, 2);
        else
            picture.shapes.emplace_back(Disc{{frame.x.at(one.to_s), frame.y.at(z)}, 2, Tint::ink, true});
    }
    // Bounds at one time stand above each other, as they were counted.
    double last_s = 0, lift = 0;
    std::size_t longer = 0;
    for (const stats::Observation& one : sample) {
        if (one.known != stats::Known::at_least) continue;
        ++longer;
        lift = one.value == last_s ? lift + 5 : 5;
        last_s = one.value;
        const double x = frame.x.at(one.value);
        const double y = std::max(
            plot_top + 3,
            frame.y.at(std::clamp(z_of_bound(one.value, portions, -z_reach), -z_reach, z_reach)) - lift);
        picture.line({x, y}, {x + 9, y}, Tint::ink, 0.6);
        picture.shapes.emplace_back(Disc{{x, y}, 2, Tint::ink, false});
    }
    if (bound && frame.x.holds(bound->upper_s)) {
        const double z = std::clamp(stats::normal_quantile(bound->share), -z_reach, z_reach);
        const double x = frame.x.at(bound->upper_s), y = frame.y.at(z);
        picture.shapes.emplace_back(Area{{{x - 3, y}, {x, y - 3}, {x + 3, y}, {x, y + 3}}, Tint::ink});
        picture.shapes.emplace_back(Label{{x + 5, y + type_size * 0.36}, "bound", Tint::ink});
    }
    picture.description = fmt::format(
        "Probability plot of {} specimens, {} of them longer than their record, against a lognormal law.",
        sample.size(), longer);
    return picture;
}

Picture oc_plot(std::span<const OcCurve> curves, std::span<const double> marked, double width) {
    double low = 1, high = 0;
    for (const OcCurve& curve : curves)
        for (const double beyond : curve.beyond) {
            low = std::min(low, beyond);
            high = std::max(high, beyond);
        }
    Picture picture;
    picture.width = width;
    picture.height = plot_top + plot_height + plot_bottom_room;
    const Frame frame{
        Scale(Scale::Kind::logarithmic, 100 * low, 100 * high, plot_left, width - plot_right_room),
        Scale(Scale::Kind::linear, 0, 1, plot_top + plot_height, plot_top)};
    draw_frame(picture, frame, "share of the lot over the limit, %", "probability that the lot is accepted");
    for (const int percent : {0, 25, 50, 75, 100})
        draw_level(picture, frame, percent / 100.0, fmt::format("{} %", percent));
    for (const double beyond : marked)
        draw_line_at(picture, frame, 100 * beyond, fmt::format("{:.3g} %", 100 * beyond));
    std::string names;
    for (std::size_t i = 0; i < curves.size(); ++i) {
        const OcCurve& curve = curves[i];
        Polyline line;
        line.width = 0.8;
        line.dash = i == 0 ? Dash::solid : Dash::dashed;
        for (std::size_t k = 0; k < curve.beyond.size(); ++k)
            line.points.push_back(
                {frame.x.at(100 * curve.beyond[k]), frame.y.at(std::clamp(curve.accepted[k], 0.0, 1.0))});
        picture.shapes.emplace_back(std::move(line));
        // The curves end together at the lower right: names stand above each other there.
        picture.shapes.emplace_back(
            Label{{width - plot_right_room + 4, plot_top + plot_height - 4 - 9 * static_cast<double>(i)},
                  (i == 0 ? "– " : "-- ") + curve.name,
                  Tint::ink});
        names += (names.empty() ? "" : " and ") + curve.name;
    }
    picture.description = fmt::format(
        "Operating characteristics, {}: probability of acceptance against the share over the limit.", names);
    return picture;
}

}  // namespace ebbtide::report
