#include "report/residual_plot.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "basis/number_text.hpp"
#include "report/curve_line.hpp"
#include "report/law_words.hpp"
#include "report/scale.hpp"

namespace ebbtide::report {
namespace {

using Points = std::span<const decay::ResidualPoint>;

constexpr double small_type = 6.5, title_type = 8;
constexpr double axis_room = 30, words_room = 46;
constexpr double fall_top = 24, fall_height = 78, strip_top = fall_top + fall_height + 16, strip_height = 38;
constexpr double fit_height = strip_top + strip_height + 22;

constexpr std::size_t panels_across = 6;
constexpr double panel_gap = 12, panel_top = 13, panel_height = 30,
                 panel_full = panel_top + panel_height + 11;
constexpr double narrow_sigmas = 4, wide_sigmas = 8;

const decay::LawFigures* plotted_law(const judge::JudgedRun& run) {
    return run.figures && run.figures->law && !run.figures->law->residuals.empty() ? &*run.figures->law
                                                                                   : nullptr;
}

Scale time_scale(double first_s, double last_s, bool decades, double from, double to) {
    if (!(last_s > first_s)) last_s = first_s + 1;
    if (decades) return Scale(Scale::Kind::logarithmic, first_s, last_s, from, to);
    return Scale(Scale::Kind::linear, std::min(0.0, first_s), last_s, from, to);
}

void draw_time_axis(Picture& picture, const Scale& x, double y, int most) {
    picture.line({x.at(x.low()), y}, {x.at(x.high()), y}, Tint::muted, 0.4);
    for (const Tick& tick : x.ticks(most)) {
        picture.line({x.at(tick.value), y}, {x.at(tick.value), y + 2.5}, Tint::muted, 0.4);
        picture.shapes.emplace_back(
            Label{{x.at(tick.value), y + 9.5}, tick.text, Tint::muted, Anchor::middle});
    }
}

void draw_value_axis(Picture& picture, const Scale& y, double x, int most) {
    picture.line({x, y.at(y.low())}, {x, y.at(y.high())}, Tint::muted, 0.4);
    for (const Tick& tick : y.ticks(most)) {
        picture.line({x - 2.5, y.at(tick.value)}, {x, y.at(tick.value)}, Tint::muted, 0.4);
        picture.shapes.emplace_back(
            Label{{x - 4, y.at(tick.value) + small_type * 0.36}, tick.text, Tint::muted, Anchor::end});
    }
}

/// The stretch between -2 and +2 standard uncertainties of a mean.
void draw_band(Picture& picture, Points points, const Scale& x, const Scale& y, double unit_V) {
    Area band;
    for (const auto& p : points)
        band.points.push_back({x.at(x.clamped(p.time_s)), y.at(y.clamped(2 * p.u_V / unit_V))});
    for (std::size_t i = points.size(); i-- > 0;)
        band.points.push_back(
            {x.at(x.clamped(points[i].time_s)), y.at(y.clamped(-2 * points[i].u_V / unit_V))});
    band.tint = Tint::rule;
    picture.shapes.emplace_back(std::move(band));
}

void draw_fall(Picture& picture, const PlottedRun& plotted, const decay::LawFigures& law, const Scale& x,
               double V0) {
    double lowest = 1;
    std::vector<double> time_s, law_V;
    for (const decay::ResidualPoint& p : law.residuals) {
        time_s.push_back(p.time_s);
        law_V.push_back(p.law_V);
        if (p.law_V > 0) lowest = std::min(lowest, p.law_V / V0);
    }
    // Below twice its noise a fall is no line on a logarithmic scale.
    const double noise = 2 * plotted.run->figures->noise_V / V0;
    const Scale y(Scale::Kind::logarithmic, 100 * std::clamp(lowest / 1.6, std::clamp(noise, 1e-3, 0.1), 0.9),
                  125, fall_top + fall_height, fall_top);
    draw_value_axis(picture, y, axis_room, 5);
    picture.shapes.emplace_back(Label{{0, fall_top - 6}, "specimen voltage, % of V0", Tint::muted});
    if (plotted.trace != nullptr)
        draw_curve(picture, plotted.trace->time_s, plotted.trace->specimen_V, V0 / 100, x, y,
                   tint_of(*plotted.run), 0.7);
    draw_curve(picture, time_s, law_V, V0 / 100, x, y, Tint::ink, 0.6, Dash::dashed);
    const double end_V = law_V.back();
    if (const double percent = 100 * end_V / V0; y.holds(percent))
        picture.shapes.emplace_back(
            Label{{x.at(x.high()) + 5, y.at(percent) + small_type * 0.36}, "the law", Tint::ink});
}

void draw_strip(Picture& picture, const PlottedRun& plotted, const decay::LawFigures& law, const Scale& x,
                double V0) {
    const double unit_V = V0 / 100;
    double limit = 0;
    for (const decay::ResidualPoint& p : law.residuals)
        limit = std::max({limit, std::abs(p.residual_V) / unit_V, 2 * p.u_V / unit_V});
    if (!(limit > 0)) limit = 1;
    const Scale y(Scale::Kind::linear, -1.1 * limit, 1.1 * limit, strip_top + strip_height, strip_top);
    draw_band(picture, law.residuals, x, y, unit_V);
    picture.line({axis_room, y.at(0)}, {x.at(x.high()), y.at(0)}, Tint::muted, 0.4);
    draw_value_axis(picture, y, axis_room, 5);
    picture.shapes.emplace_back(Label{{0, strip_top - 5}, "left over, % of V0", Tint::muted});
    for (const decay::ResidualPoint& p : law.residuals)
        picture.shapes.emplace_back(
            Disc{{x.at(x.clamped(p.time_s)), y.at(p.residual_V / unit_V)}, 1.1, tint_of(*plotted.run), true});
    const decay::ResidualPoint& end = law.residuals.back();
    if (end.u_V > 0)
        picture.shapes.emplace_back(
            Label{{x.at(x.high()) + 5, y.at(0) + small_type * 0.36}, "noise, 95 %", Tint::muted});
}

/// Where the panel at `left` stands in the picture of its row.
void draw_panel(Picture& picture, const ResidualPanel& panel, double left, double width, const Scale& y,
                double first_s, double last_s, bool decades) {
    picture.shapes.emplace_back(
        Label{{left, 7}, fitted(panel.title, small_type, width), Tint::ink, Anchor::start, small_type, true});
    const Scale x = time_scale(first_s, last_s, decades, left, left + width);
    const auto band = [&](double sigmas) { return y.at(sigmas); };
    picture.shapes.emplace_back(Area{
        {{left, band(2)}, {left + width, band(2)}, {left + width, band(-2)}, {left, band(-2)}}, Tint::rule});
    picture.line({left, y.at(0)}, {left + width, y.at(0)}, Tint::muted, 0.4);
    for (const judge::JudgedRun* run : panel.runs) {
        const decay::LawFigures* law = plotted_law(*run);
        if (law == nullptr) continue;
        for (const decay::ResidualPoint& p : law->residuals)
            if (p.u_V > 0 && x.holds(p.time_s))
                picture.shapes.emplace_back(
                    Disc{{x.at(p.time_s), y.at(y.clamped(p.residual_V / p.u_V))}, 0.7, tint_of(*run), true});
    }
    draw_time_axis(picture, x, panel_top + panel_height, 3);
}

}  // namespace

bool wants_decades(Points points) {
    if (points.size() < 3 || !(points.front().time_s > 0)) return false;
    return points[points.size() / 2].time_s < 0.35 * points.back().time_s;
}

Picture fit_plot(const std::string& title, const std::string& subtitle, const PlottedRun& plotted,
                 double width) {
    Picture picture{width, fit_height, "", {}};
    const decay::LawFigures& law = *plotted.run->figures->law;
    picture.description = fmt::format(
        "Fall of {} on a logarithmic scale with its law ({}), and below it the block means of "
        "what the law leaves, with the band of the noise.",
        title, law_sentence(law));
    picture.shapes.emplace_back(
        Label{{0, 8}, fitted(title, title_type, width * 0.4), Tint::ink, Anchor::start, title_type, true});
    const double title_width = std::min(width * 0.4, estimated_width(title, title_type)) + 8;
    picture.shapes.emplace_back(
        Label{{title_width, 8}, fitted(subtitle, small_type, width - title_width), Tint::muted});

    const double right = width - words_room;
    const Scale x = time_scale(law.residuals.front().time_s, law.residuals.back().time_s,
                               wants_decades(law.residuals), axis_room, right);
    const double V0 = plotted.run->figures->initial_voltage_V.value_or(law.residuals.front().law_V);
    const double counted_V = V0 > 0 ? V0 : 1;
    draw_fall(picture, plotted, law, x, counted_V);
    draw_strip(picture, plotted, law, x, counted_V);
    draw_time_axis(picture, x, strip_top + strip_height, 8);
    picture.shapes.emplace_back(
        Label{{right, strip_top + strip_height + 18.5}, "time after release, s", Tint::muted, Anchor::end});
    return picture;
}

std::vector<Picture> residual_panels(std::span<const ResidualPanel> panels, double width) {
    double first_s = HUGE_VAL, last_s = 0, most = 0;
    std::size_t in_decades = 0, shown = 0;
    for (const ResidualPanel& panel : panels)
        for (const judge::JudgedRun* run : panel.runs)
            if (const decay::LawFigures* law = plotted_law(*run)) {
                first_s = std::min(first_s, law->residuals.front().time_s);
                last_s = std::max(last_s, law->residuals.back().time_s);
                in_decades += wants_decades(law->residuals) ? 1 : 0;
                ++shown;
                for (const decay::ResidualPoint& p : law->residuals)
                    if (p.u_V > 0) most = std::max(most, std::abs(p.residual_V) / p.u_V);
            }
    std::vector<Picture> out;
    if (shown == 0) return out;
    const bool decades = 2 * in_decades > shown && first_s > 0;
    const double limit = most > narrow_sigmas ? wide_sigmas : narrow_sigmas;
    const Scale y(Scale::Kind::linear, -limit, limit, panel_top + panel_height, panel_top);
    const double each = (width - axis_room - (panels_across - 1) * panel_gap) / panels_across;
    for (std::size_t first = 0; first < panels.size(); first += panels_across) {
        const std::size_t last = std::min(first + panels_across, panels.size());
        Picture row{width, panel_full, "", {}};
        std::string names;
        draw_value_axis(row, y, axis_room - 6, 4);
        for (std::size_t i = first; i < last; ++i) {
            names += (names.empty() ? "" : ", ") + panels[i].title;
            draw_panel(row, panels[i], axis_room + static_cast<double>(i - first) * (each + panel_gap), each,
                       y, first_s, last_s, decades);
        }
        row.description = fmt::format(
            "Residuals of the laws of {} in units of their noise, against time after release.", names);
        out.push_back(std::move(row));
    }
    return out;
}

}  // namespace ebbtide::report
