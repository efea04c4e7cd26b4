#include "report/sweep_plot.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <vector>

#include "basis/number_text.hpp"
#include "report/scale.hpp"

namespace ebbtide::report {
namespace {

constexpr double letter_size = 6.5, heading_size = 8;
constexpr double plot_left = 42, label_room = 46, plot_top = 26, plot_height = 190, plot_foot = 24;

std::string sweep_in_words(const SweepData& data) {
    std::string out =
        fmt::format("Decay times by their logarithm over {}, {} to {}", data.axis,
                    significant_text(data.places.front(), 3), significant_text(data.places.back(), 3));
    for (const SweepLine& line : data.lines)
        out += fmt::format("; to {}: {} to {} s", line.label, significant_text(line.decay_s.front(), 3),
                           significant_text(line.decay_s.back(), 3));
    if (data.limit_s) out += fmt::format("; limit {} s", significant_text(*data.limit_s, 3));
    return out + ".";
}

void draw_sweep_axes(Picture& picture, const Scale& x, const Scale& y, const std::string& name) {
    const double bottom = plot_top + plot_height;
    picture.line({x.at(x.low()), bottom}, {x.at(x.high()), bottom}, Tint::muted, 0.4);
    for (const Tick& tick : x.ticks(8)) {
        picture.line({x.at(tick.value), bottom}, {x.at(tick.value), bottom + 2.5}, Tint::muted, 0.4);
        picture.shapes.emplace_back(
            Label{{x.at(tick.value), bottom + 9.5}, tick.text, Tint::muted, Anchor::middle});
    }
    for (const Tick& tick : y.ticks(7)) {
        picture.line({plot_left, y.at(tick.value)}, {x.at(x.high()), y.at(tick.value)}, Tint::rule, 0.4);
        picture.shapes.emplace_back(Label{
            {plot_left - 4, y.at(tick.value) + letter_size * 0.36}, tick.text, Tint::muted, Anchor::end});
    }
    picture.shapes.emplace_back(Label{{0, plot_top - 6}, "decay time, s", Tint::muted});
    picture.shapes.emplace_back(Label{{x.at(x.high()), bottom + 19}, name, Tint::muted, Anchor::end});
}

}  // namespace

Picture sweep_plot(const SweepData& data, double width) {
    Picture picture{width, plot_top + plot_height + plot_foot, sweep_in_words(data), {}};
    picture.shapes.emplace_back(Label{
        {0, 8}, fitted(data.title, heading_size, width * 0.5), Tint::ink, Anchor::start, heading_size, true});
    const double beside = std::min(width * 0.5, estimated_width(data.title, heading_size)) + 8;
    picture.shapes.emplace_back(
        Label{{beside, 8}, fitted(data.subtitle, letter_size, width - beside), Tint::muted});

    double lowest = HUGE_VAL, highest = 0;
    for (const SweepLine& line : data.lines)
        for (const double decay_s : line.decay_s)
            if (decay_s > 0) {
                lowest = std::min(lowest, decay_s);
                highest = std::max(highest, decay_s);
            }
    if (data.limit_s) {
        lowest = std::min(lowest, *data.limit_s);
        highest = std::max(highest, *data.limit_s);
    }
    const double right = width - label_room;
    const Scale x(data.decades ? Scale::Kind::logarithmic : Scale::Kind::linear, data.places.front(),
                  data.places.back(), plot_left, right);
    const Scale y(Scale::Kind::logarithmic, lowest / 1.25, highest * 1.25, plot_top + plot_height, plot_top);
    draw_sweep_axes(picture, x, y, data.axis);
    if (data.limit_s) {
        picture.line({plot_left, y.at(*data.limit_s)}, {right, y.at(*data.limit_s)}, Tint::ink, 0.6,
                     Dash::dashed);
        picture.shapes.emplace_back(
            Label{{right + 5, y.at(*data.limit_s) + letter_size * 0.36}, data.limit_label});
    }
    std::vector<Label> labels;
    for (const SweepLine& line : data.lines) {
        Polyline curve{{}, Tint::ink, 0.9, Dash::solid};
        for (std::size_t i = 0; i < data.places.size(); ++i)
            if (line.decay_s[i] > 0) curve.points.push_back({x.at(data.places[i]), y.at(line.decay_s[i])});
        if (curve.points.empty()) continue;
        labels.push_back({{right + 5, curve.points.back().y + letter_size * 0.36}, line.label});
        picture.shapes.emplace_back(std::move(curve));
    }
    // Those of neighbouring lines are kept apart, downward, in the order of the lines.
    std::ranges::sort(labels, {}, [](const Label& label) { return label.at.y; });
    for (std::size_t k = 0; k < labels.size(); ++k) {
        if (k > 0) labels[k].at.y = std::max(labels[k].at.y, labels[k - 1].at.y + letter_size * 1.2);
        picture.shapes.emplace_back(labels[k]);
    }
    return picture;
}

}  // namespace ebbtide::report
