#include "report/compare_plot.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "basis/number_text.hpp"
#include "report/scale.hpp"

namespace ebbtide::report {
namespace {

constexpr double names_width = 96, figures_width = 108, row_height = 22, head_room = 8, axis_room = 24;
constexpr double words_size = 6.5, tail_length = 9;
constexpr int lanes = 3;

Scale axis_of(std::span<const PlottedGroup> groups, double from, double to) {
    double low = HUGE_VAL, high = 0;
    const auto reach = [&](double time_s) {
        low = std::min(low, time_s);
        high = std::max(high, time_s);
    };
    for (const PlottedGroup& group : groups) {
        for (const stats::Observation& one : group.sample) {
            reach(one.value);
            if (one.known == stats::Known::between) reach(one.upper);
        }
        if (group.mean_s) reach(*group.mean_s);
    }
    // Wide intervals of means run off the axis rather than squeeze the specimens into its middle.
    const double room = std::max(1.15, std::pow(high / low, 0.08));
    // Under a few times the shortest a logarithmic axis has hardly a round number to write.
    const auto kind = high / low > 8 ? Scale::Kind::logarithmic : Scale::Kind::linear;
    return Scale(kind, low / room, high * room, from, to);
}

void draw_specimens(Picture& picture, const PlottedGroup& group, const Scale& x, double y) {
    int seen = 0;
    for (const stats::Observation& one : group.sample) {
        // Side by side where they would hide each other.
        const double at_y = y + 3.2 * (seen++ % lanes - 1), at_x = x.at(one.value);
        switch (one.known) {
            case stats::Known::exactly:
                picture.shapes.emplace_back(Disc{{at_x, at_y}, 1.7, Tint::positive, true});
                break;
            case stats::Known::between:
                picture.line({at_x, at_y}, {x.at(one.upper), at_y}, Tint::positive, 1.6);
                break;
            case stats::Known::at_least:
            case stats::Known::at_most: {
                const double along = one.known == stats::Known::at_least ? tail_length : -tail_length;
                picture.line({at_x, at_y}, {at_x + along, at_y}, Tint::positive, 0.6);
                picture.shapes.emplace_back(Disc{{at_x, at_y}, 1.7, Tint::positive, false});
                break;
            }
        }
    }
}

std::string draw_group_mean(Picture& picture, const PlottedGroup& group, const Scale& x, double y) {
    if (!group.mean_s) return "no mean";
    const double at = x.at(*group.mean_s);
    if (group.interval.low && group.interval.high) {
        picture.line({x.at(x.clamped(*group.interval.low)), y}, {x.at(x.clamped(*group.interval.high)), y},
                     Tint::ink, 0.9);
        picture.line({at, y - 7}, {at, y + 7}, Tint::ink, 1.5);
        return fmt::format("{} s ({} to {})", significant_text(*group.mean_s, 3),
                           significant_text(*group.interval.low, 3),
                           significant_text(*group.interval.high, 3));
    }
    picture.line({at, y - 7}, {at, y + 7}, Tint::ink, 1.5);
    return significant_text(*group.mean_s, 3) + " s";
}

}  // namespace

Picture compare_plot(std::span<const PlottedGroup> groups, double width) {
    Picture picture;
    picture.width = width;
    const Scale x = axis_of(groups, names_width, width - figures_width);
    const double left = x.at(x.low()), right = x.at(x.high());
    double y = head_room + row_height / 2;
    for (const PlottedGroup& group : groups) {
        picture.line({left, y}, {right, y}, Tint::rule, 0.4);
        picture.shapes.emplace_back(
            Label{{0, y + 2.4}, fitted(group.name, words_size, names_width - 8), Tint::ink});
        draw_specimens(picture, group, x, y);
        const std::string figures = draw_group_mean(picture, group, x, y);
        picture.shapes.emplace_back(Label{
            {right + tail_length + 3, y + 2.4}, fitted(figures, words_size, figures_width - 12), Tint::ink});
        y += row_height;
    }
    const double bottom = y - row_height / 2 + 2;
    picture.line({left, bottom}, {right, bottom}, Tint::muted, 0.4);
    for (const Tick& tick : x.ticks(8)) {
        const double at = x.at(tick.value);
        picture.line({at, bottom}, {at, bottom + 2.5}, Tint::muted, 0.4);
        picture.shapes.emplace_back(Label{{at, bottom + 9.5}, tick.text, Tint::muted, Anchor::middle});
    }
    picture.shapes.emplace_back(Label{{right, bottom + 19}, "decay time, s", Tint::muted, Anchor::end});
    picture.height = bottom + axis_room;
    picture.description = fmt::format(
        "Decay times of {} groups on one axis, one row a group, with the mean of each and its 95 % interval.",
        groups.size());
    return picture;
}

}  // namespace ebbtide::report
