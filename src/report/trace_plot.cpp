#include "report/trace_plot.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>

#include "basis/number_text.hpp"
#include "report/curve_line.hpp"
#include "report/scale.hpp"
#include "report/words.hpp"

namespace ebbtide::report {
namespace {

constexpr double left_margin = 24, right_margin = 34;
constexpr double linear_top = 26, linear_height = 82;
constexpr double log_top = linear_top + linear_height + 18, log_height = 66;
constexpr double full_height = log_top + log_height + 21;
constexpr double label_size = 6.5, title_size = 8;
constexpr double share_before_release = 0.12;

/// The curve is there to be seen: an extrapolated time has no crossing.
bool was_measured(const decay::LevelFigure& figure) {
    return figure.decay_s && figure.status == decay::LevelStatus::measured;
}

/// A crossing: open circle for positive, open diamond for negative runs, so that grey print tells them apart.
void draw_crossing(Picture& picture, Point at, plan::Polarity polarity, Tint tint) {
    constexpr double r = 1.7;
    if (polarity == plan::Polarity::positive) {
        picture.shapes.emplace_back(Disc{at, r, tint, false});
        return;
    }
    const double d = r * 1.25;
    const std::vector<Point> corners{
        {at.x, at.y - d}, {at.x + d, at.y}, {at.x, at.y + d}, {at.x - d, at.y}, {at.x, at.y - d}};
    picture.shapes.emplace_back(Area{corners, Tint::paper});
    picture.shapes.emplace_back(Polyline{corners, tint, 0.6, Dash::solid});
}

struct Crossings {
    double lowest_s = 0, highest_s = 0;
    int count = 0;
    void add(double t) {
        lowest_s = count == 0 ? t : std::min(lowest_s, t);
        highest_s = count == 0 ? t : std::max(highest_s, t);
        ++count;
    }
    [[nodiscard]] std::string text(plan::Polarity polarity) const {
        const std::string sign = polarity == plan::Polarity::positive ? "+ " : "− ";
        const std::string low = significant_text(lowest_s, 3), high = significant_text(highest_s, 3);
        return sign + (low == high ? low : low + "–" + high) + " s";
    }
};

/// One decay level as the runs of the plot show it.
struct LevelMarks {
    std::string label;
    double fraction_sum = 0, volts_sum = 0;
    int runs = 0;
    std::map<plan::Polarity, Crossings> crossings;  // of the runs that count
    [[nodiscard]] double fraction() const { return fraction_sum / runs; }
    [[nodiscard]] double volts() const { return volts_sum / runs; }
};

std::vector<LevelMarks> levels_of(std::span<const PlottedRun> runs) {
    std::vector<LevelMarks> marks;
    for (const PlottedRun& plotted : runs) {
        if (!plotted.run->figures || !plotted.run->figures->initial_voltage_V) continue;
        const double initial_V = *plotted.run->figures->initial_voltage_V;
        for (const decay::LevelFigure& figure : plotted.run->figures->levels) {
            if (!(figure.level_V > 0) || !(initial_V > 0)) continue;
            const std::string label = figure.level.label();
            auto found = std::ranges::find(marks, label, &LevelMarks::label);
            if (found == marks.end()) found = marks.insert(marks.end(), LevelMarks{label, 0, 0, 0, {}});
            found->fraction_sum += figure.level_V / initial_V;
            found->volts_sum += figure.level_V;
            ++found->runs;
            if (was_measured(figure) && plotted.run->counts)
                found->crossings[plotted.run->key.polarity].add(*figure.decay_s);
        }
    }
    std::ranges::sort(marks, std::greater{}, &LevelMarks::fraction);
    return marks;
}

/// Moves heights apart until neighbours are `distance` apart, within [top, bottom]; order is kept.
std::vector<double> spread(std::vector<double> heights, double distance, double top, double bottom) {
    for (std::size_t i = 0; i < heights.size(); ++i)
        heights[i] = std::max(heights[i], i == 0 ? top : heights[i - 1] + distance);
    for (std::size_t i = heights.size(); i-- > 0;)
        heights[i] = std::min(heights[i], i + 1 == heights.size() ? bottom : heights[i + 1] - distance);
    return heights;
}

void draw_levels(Picture& picture, const std::vector<LevelMarks>& levels, const std::vector<double>& heights,
                 double right, double top, double bottom) {
    constexpr double distance = label_size + 0.4;
    // Where labels cannot all be kept apart, every label but the first few is left out; ticks stay.
    const auto room = static_cast<std::size_t>((bottom - top) / distance);
    std::vector<double> wanted(heights.begin(),
                               heights.begin() + static_cast<std::ptrdiff_t>(std::min(room, heights.size())));
    const std::vector<double> placed = spread(wanted, distance, top + 1, bottom);
    for (std::size_t i = 0; i < levels.size(); ++i) {
        picture.line({right, heights[i]}, {right + 4, heights[i]}, Tint::ink, 0.5);
        if (i < placed.size())
            picture.shapes.emplace_back(
                Label{{right + 6, placed[i] + label_size * 0.36}, levels[i].label, Tint::ink});
    }
}

/// Times beside the marks on the logarithmic panel, at the heights of their levels.
void draw_times(Picture& picture, const std::vector<LevelMarks>& levels, const Scale& x, const Scale& y,
                double right) {
    struct Note {
        double right_of, left_of, height;  // the marks it belongs to
        std::vector<std::pair<std::string, Tint>> texts;
    };
    std::vector<Note> notes;
    for (const LevelMarks& level : levels) {
        Note note{0, HUGE_VAL, y.at(y.clamped(100 * level.fraction())), {}};
        for (const auto& [polarity, crossings] : level.crossings) {
            if (!x.holds(crossings.highest_s)) continue;
            note.right_of = std::max(note.right_of, x.at(crossings.highest_s) + 5);
            note.left_of = std::min(note.left_of, x.at(x.clamped(crossings.lowest_s)) - 5);
            note.texts.emplace_back(crossings.text(polarity),
                                    polarity == plan::Polarity::positive ? Tint::positive : Tint::negative);
        }
        if (!note.texts.empty()) notes.push_back(std::move(note));
    }
    constexpr double gap = 5;
    std::vector<double> heights;
    for (const Note& note : notes) heights.push_back(note.height);
    heights = spread(heights, label_size + 0.6, log_top + 2, log_top + log_height - 2);
    for (std::size_t i = 0; i < notes.size(); ++i) {
        double width = -gap;
        for (const auto& [text, tint] : notes[i].texts) width += estimated_width(text, label_size) + gap;
        const bool right_fits = notes[i].right_of + width <= right;
        const bool left_fits = notes[i].left_of - width >= left_margin + 2;
        // The curve falls from the upper left to the lower right: what stands right of it is raised a little,
        // what stands left of it lowered.
        const double middle = heights[i] + label_size * 0.36, raised = middle - 2, lowered = middle + 2.5;
        double right_x = notes[i].right_of, left_x = notes[i].left_of;
        for (std::size_t j = 0; j < notes[i].texts.size(); ++j) {
            const auto& [text, tint] =
                notes[i].texts[left_fits && !right_fits ? notes[i].texts.size() - 1 - j : j];
            const double wide = estimated_width(text, label_size);
            if (right_fits || (!left_fits && j > 0)) {
                const bool fits = right_x + wide <= right;  // else against the edge, clear of the curve
                picture.shapes.emplace_back(
                    Label{{fits ? right_x : right - wide, fits ? raised : raised - 5}, text, tint});
                right_x += wide + gap;
            } else {
                picture.shapes.emplace_back(Label{{left_x, lowered}, text, tint, Anchor::end});
                left_x -= wide + gap;
            }
        }
    }
}

void draw_axes(Picture& picture, const Scale& x, const Scale& y, double top, double bottom,
               const std::string& y_name, bool with_time) {
    picture.line({left_margin, top}, {left_margin, bottom}, Tint::muted, 0.4);
    for (const Tick& tick : y.ticks(5)) {
        picture.line({left_margin - 2.5, y.at(tick.value)}, {left_margin, y.at(tick.value)}, Tint::muted,
                     0.4);
        picture.shapes.emplace_back(Label{
            {left_margin - 4, y.at(tick.value) + label_size * 0.36}, tick.text, Tint::muted, Anchor::end});
    }
    picture.shapes.emplace_back(Label{{0, top - 5}, y_name, Tint::muted});
    const double floor = with_time ? bottom : y.at(y.clamped(0));
    picture.line({x.at(x.low()), floor}, {x.at(x.high()), floor}, Tint::muted, 0.4);
    const std::vector<Tick> ticks = x.ticks(6);
    for (const Tick& tick : ticks) {
        picture.line({x.at(tick.value), floor}, {x.at(tick.value), floor + 2.5}, Tint::muted, 0.4);
        if (with_time)
            picture.shapes.emplace_back(
                Label{{x.at(tick.value), floor + 9.5}, tick.text, Tint::muted, Anchor::middle});
    }
    if (with_time)
        picture.shapes.emplace_back(
            Label{{x.at(x.high()), floor + 18.5}, "time after release, s", Tint::muted, Anchor::end});
}

/// "+ 1, 2, 3" in the upper right, and which runs do not count.
void draw_run_names(Picture& picture, std::span<const PlottedRun> runs, bool electrode_drawn, double right) {
    std::map<std::pair<bool, plan::Polarity>, std::vector<int>> names;
    for (const PlottedRun& plotted : runs)
        names[{!plotted.run->counts, plotted.run->key.polarity}].push_back(plotted.run->key.replicate);
    double baseline = linear_top + 8;
    for (const auto& [key, replicates] : names) {
        const auto& [excluded, polarity] = key;
        const bool positive = polarity == plan::Polarity::positive;
        const std::string text = fmt::format("{} {} {}{}", positive ? "positive" : "negative",
                                             replicates.size() == 1 ? "run" : "runs", ranges_text(replicates),
                                             excluded ? " (does not count)" : "");
        picture.shapes.emplace_back(Label{{right - 2, baseline},
                                          fitted(text, label_size, (right - left_margin) * 0.75),
                                          excluded   ? Tint::muted
                                          : positive ? Tint::positive
                                                     : Tint::negative,
                                          Anchor::end});
        baseline += label_size + 1.8;
    }
    if (electrode_drawn)
        picture.shapes.emplace_back(Label{{right - 2, baseline}, "electrode", Tint::muted, Anchor::end});
}

}  // namespace

std::optional<double> wanted_time_s(std::span<const PlottedRun> runs) {
    double end_of_curves = 0, last_crossing = 0, shortest_s = 0;
    bool all_reached = true;
    for (const PlottedRun& plotted : runs) {
        if (plotted.trace == nullptr || plotted.trace->time_s.empty()) continue;
        const std::vector<double>& time_s = plotted.trace->time_s;
        end_of_curves = std::max(end_of_curves, time_s.back());
        // Fewer than some forty samples after the release show no curve.
        const auto release = std::ranges::lower_bound(time_s, 0.0);
        const auto shown = std::min<std::ptrdiff_t>(40, time_s.end() - release);
        if (shown > 0) shortest_s = std::max(shortest_s, *(release + shown - 1));
        if (!plotted.run->figures) continue;
        for (const decay::LevelFigure& figure : plotted.run->figures->levels) {
            if (was_measured(figure)) last_crossing = std::max(last_crossing, *figure.decay_s);
            if (figure.at_most_s) last_crossing = std::max(last_crossing, *figure.at_most_s);
            all_reached = all_reached && figure.status != decay::LevelStatus::not_reached &&
                          figure.status != decay::LevelStatus::extrapolated;
        }
    }
    if (!(end_of_curves > 0)) return {};
    if (!all_reached || last_crossing <= 0) return end_of_curves;
    return std::min(end_of_curves, std::max(shortest_s, 1.4 * last_crossing));
}

Picture trace_plot(const std::string& title, const std::string& subtitle, std::span<const PlottedRun> runs,
                   double time_s, double width) {
    Picture picture{width, full_height, "", {}};
    picture.description = fmt::format(
        "Voltage against time after release of {}, {} runs: linear above, "
        "logarithmic below, decay levels and crossings marked.",
        title, runs.size());
    const double right = width - right_margin;
    picture.shapes.emplace_back(
        Label{{0, 8}, fitted(title, title_size, width * 0.55), Tint::ink, Anchor::start, title_size, true});
    const double title_width = std::min(width * 0.55, estimated_width(title, title_size)) + 8;
    picture.shapes.emplace_back(
        Label{{title_width, 8}, fitted(subtitle, label_size, width - title_width), Tint::muted});

    double highest_V = 0, lowest_V = 0;
    for (const PlottedRun& plotted : runs) {
        if (plotted.trace == nullptr) continue;
        for (const double v : plotted.trace->specimen_V) {
            if (!std::isfinite(v)) continue;
            highest_V = std::max(highest_V, v);
            lowest_V = std::min(lowest_V, v);
        }
        for (const double v : plotted.trace->electrode_V)
            if (std::isfinite(v)) highest_V = std::max(highest_V, v);
    }
    if (!(highest_V > 0)) {
        picture.height = 30;
        picture.shapes.emplace_back(Label{{0, 22}, "no curve was kept", Tint::muted});
        return picture;
    }
    const bool in_kV = highest_V >= 1000;
    const double unit_V = in_kV ? 1000 : 1;
    const Scale x(Scale::Kind::linear, -share_before_release * time_s, time_s, left_margin, right);
    const Scale linear(Scale::Kind::linear, std::max(lowest_V, -0.08 * highest_V) / unit_V,
                       1.06 * highest_V / unit_V, linear_top + linear_height, linear_top);
    const std::vector<LevelMarks> levels = levels_of(runs);
    double lowest_fraction = 0.1;
    for (const LevelMarks& level : levels) lowest_fraction = std::min(lowest_fraction, level.fraction());
    const Scale logarithmic(Scale::Kind::logarithmic, std::max(1e-3, lowest_fraction * 30), 130,
                            log_top + log_height, log_top);

    draw_axes(picture, x, linear, linear_top, linear_top + linear_height,
              in_kV ? "specimen voltage, kV" : "specimen voltage, V", false);
    draw_axes(picture, x, logarithmic, log_top, log_top + log_height, "specimen voltage, % of V0", true);
    for (const auto& [top, height] : {std::pair(linear_top, linear_height), std::pair(log_top, log_height)})
        picture.line({x.at(0), top}, {x.at(0), top + height}, Tint::rule, 0.5);  // the release

    bool electrode_drawn = false;
    for (const PlottedRun& plotted : runs) {
        if (plotted.trace == nullptr || plotted.trace->electrode_V.empty()) continue;
        draw_curve(picture, plotted.trace->time_s, plotted.trace->electrode_V, unit_V, x, linear, Tint::muted,
                   0.35);
        electrode_drawn = true;
    }
    for (const bool counting : {false, true}) {  // what counts lies on top
        for (const PlottedRun& plotted : runs) {
            if (plotted.trace == nullptr || plotted.run->counts != counting) continue;
            draw_curve(picture, plotted.trace->time_s, plotted.trace->specimen_V, unit_V, x, linear,
                       tint_of(*plotted.run), 0.6);
            const auto& figures = plotted.run->figures;
            if (figures && figures->initial_voltage_V && *figures->initial_voltage_V > 0)
                draw_curve(picture, plotted.trace->time_s, plotted.trace->specimen_V,
                           *figures->initial_voltage_V / 100, x, logarithmic, tint_of(*plotted.run), 0.6);
        }
    }
    if (levels.empty())
        picture.shapes.emplace_back(Label{{(left_margin + right) / 2, log_top + log_height / 2},
                                          "no V0, so no fraction of it",
                                          Tint::muted,
                                          Anchor::middle});
    std::vector<double> linear_heights, log_heights;
    for (const LevelMarks& level : levels) {
        linear_heights.push_back(linear.at(linear.clamped(level.volts() / unit_V)));
        log_heights.push_back(logarithmic.at(logarithmic.clamped(100 * level.fraction())));
    }
    draw_levels(picture, levels, linear_heights, right, linear_top, linear_top + linear_height);
    draw_levels(picture, levels, log_heights, right, log_top, log_top + log_height);
    for (const PlottedRun& plotted : runs) {
        const auto& figures = plotted.run->figures;
        if (!figures || !figures->initial_voltage_V || !(*figures->initial_voltage_V > 0)) continue;
        for (const decay::LevelFigure& figure : figures->levels) {
            if (!was_measured(figure) || !x.holds(*figure.decay_s) || !(figure.level_V > 0)) continue;
            const double at_x = x.at(*figure.decay_s);
            const Tint tint = tint_of(*plotted.run);
            draw_crossing(picture, {at_x, linear.at(linear.clamped(figure.level_V / unit_V))},
                          plotted.run->key.polarity, tint);
            const double percent = 100 * figure.level_V / *figures->initial_voltage_V;
            draw_crossing(picture, {at_x, logarithmic.at(logarithmic.clamped(percent))},
                          plotted.run->key.polarity, tint);
        }
    }
    draw_times(picture, levels, x, logarithmic, right);
    draw_run_names(picture, runs, electrode_drawn, right);
    return picture;
}

}  // namespace ebbtide::report
