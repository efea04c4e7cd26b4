#include "report/dot_plot.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <optional>

#include "basis/number_text.hpp"
#include "report/dot_rows.hpp"
#include "report/scale.hpp"
#include "report/words.hpp"

namespace ebbtide::report {
namespace {

constexpr double label_width = 118, note_width = 96;
constexpr double top_margin = 18, bottom_margin = 21;
constexpr double lane_height = 2.4;
constexpr int most_lanes = 3;  // a polarity, so that dots that lie close stand beside each other
constexpr double most_height = 540;
constexpr double text_size = 6.5;

/// Holds the measured times, the limits and a little air. Bounds beyond do not stretch it: their arrows point
/// over its edge with the bound beside them.
std::optional<Scale> scale_of(const std::vector<DotRow>& rows, const std::vector<double>& limits,
                              const plan::Level& level, double from, double to) {
    double high = 0, low = 0;
    const auto include = [&](double t) {
        if (!(t > 0)) return;
        high = std::max(high, t);
        low = low == 0 ? t : std::min(low, t);
    };
    double bound = 0;
    for (const DotRow& row : rows) {
        for (const judge::JudgedRun* run : row.runs) {
            const decay::LevelFigure* figure = figure_at(*run, level);
            if (figure == nullptr) continue;
            if (figure->decay_s) include(*figure->decay_s + 2 * figure->u_decay_s.value_or(0));
            if (figure->at_most_s) include(*figure->at_most_s);
            if (figure->at_least_s) bound = std::max(bound, *figure->at_least_s);
        }
        if (row.lot_bound_s) bound = std::max(bound, *row.lot_bound_s);
        if (row.mean != nullptr && row.mean->bound == judge::BoundKind::value)
            include(*row.mean->value_s + row.mean->expanded_u_s.value_or(0));
    }
    for (const double limit : limits) include(limit);
    for (const DotRow& row : rows)
        for (const GuardBand& guard : row.guards) include(guard.limit_s + guard.width_s);
    // A bound on the lot near the times belongs onto the axis; one far off would squeeze them.
    for (const DotRow& row : rows)
        if (row.lot_bound_s && *row.lot_bound_s < 2.5 * high) include(*row.lot_bound_s);
    if (high == 0) include(bound);
    if (high == 0) return {};
    if (high / low > 20) return Scale(Scale::Kind::logarithmic, low / 1.6, high * 1.6, from, to);
    return Scale(Scale::Kind::linear, 0, high * 1.18, from, to);
}

double bound_place(const Scale& x, double bound_s) {
    return std::min(x.at(x.clamped(bound_s)), x.at(x.high()) - 10);
}

/// An open dot with an arrow towards what is unknown.
void draw_bound(Picture& picture, const Scale& x, double bound_s, bool at_least, double y, Tint tint) {
    const double direction = at_least ? 1 : -1;
    const double at = bound_place(x, bound_s), tip = at + direction * 9;
    picture.line({at + direction * 2.2, y}, {tip, y}, tint, 0.6);
    const double back = tip - direction * 2.4;
    picture.shapes.emplace_back(
        Polyline{{{back, y - 1.8}, {tip, y}, {back, y + 1.8}}, tint, 0.6, Dash::solid});
    picture.shapes.emplace_back(Disc{{at, y}, 1.9, tint, false});
}

/// The bound in figures beside its dot.
void draw_bound_text(Picture& picture, const Scale& x, double bound_s, bool at_least, double y) {
    const double direction = at_least ? 1 : -1;
    const std::string text = fmt::format("{} {}", at_least ? ">" : "<", significant_text(bound_s, 3));
    const double near = bound_place(x, bound_s) - direction * 5;
    const double far = near - direction * estimated_width(text, text_size);
    picture.shapes.emplace_back(
        Area{{{near, y - 3.4}, {far, y - 3.4}, {far, y + 3.4}, {near, y + 3.4}}, Tint::paper});
    picture.shapes.emplace_back(
        Label{{near, y + text_size * 0.36}, text, Tint::ink, at_least ? Anchor::end : Anchor::start});
}

int lanes_of(const DotRow& row) {
    std::map<plan::Polarity, int> count;
    int most = 1;
    for (const judge::JudgedRun* run : row.runs) most = std::max(most, ++count[run->key.polarity]);
    return std::min(most, most_lanes);
}

double height_of(const DotRow& row) {
    return 11 + 2 * lane_height * (lanes_of(row) - 1);
}

void draw_whisker(Picture& picture, const Scale& x, double middle, double half_width, double y, Tint tint,
                  Dash dash = Dash::solid) {
    const double left = x.at(x.clamped(middle - half_width)), right = x.at(x.clamped(middle + half_width));
    picture.line({left, y}, {right, y}, tint, 0.5, dash);
    for (const double end : {left, right}) picture.line({end, y - 1.4}, {end, y + 1.4}, tint, 0.5);
}

/// The dots of a row; returns what is to be said of the runs that do not count or have no time.
std::string draw_runs(Picture& picture, const DotRow& row, const plan::Level& level, const Scale& x,
                      double y) {
    std::map<std::string, std::map<plan::Polarity, std::vector<int>>> left_out;  // why -> replicates
    std::map<plan::Polarity, int> seen;
    std::optional<double> lower_bound_s, upper_bound_s;  // the mildest of each, written once a row
    double sum = 0;
    int measured = 0;
    bool all_measured = true;
    for (const judge::JudgedRun* run : row.runs) {
        const bool positive = run->key.polarity == plan::Polarity::positive;
        const int lane = seen[run->key.polarity]++ % lanes_of(row);
        const double at_y = y + (positive ? -1 : 1) * (2.3 + lane_height * lane);
        const Tint tint = positive ? Tint::positive : Tint::negative;
        const decay::LevelFigure* figure = figure_at(*run, level);
        const std::optional<double> found = figure == nullptr ? std::nullopt : place_of(*figure);
        const bool placed = found.has_value();
        const double place_s = found.value_or(0);
        if (!run->counts)
            left_out["does not count"][run->key.polarity].push_back(run->key.replicate);
        else if (!placed)
            left_out[figure == nullptr ? "no figures" : std::string(words_for(figure->status))]
                    [run->key.polarity]
                        .push_back(run->key.replicate);
        if (run->counts && (!placed || !figure->decay_s)) all_measured = false;
        if (!placed) continue;
        const double at_x = x.at(x.clamped(place_s));
        if (!run->counts) {
            for (const double slope : {-1.0, 1.0})
                picture.line({at_x - 1.7, at_y - slope * 1.7}, {at_x + 1.7, at_y + slope * 1.7}, Tint::muted,
                             0.6);
        } else if (figure->decay_s) {
            const bool seen_to_fall = figure->status == decay::LevelStatus::measured;
            if (figure->u_decay_s)
                draw_whisker(picture, x, place_s, 2 * *figure->u_decay_s, at_y, tint,
                             seen_to_fall ? Dash::solid : Dash::dashed);
            picture.shapes.emplace_back(Disc{{at_x, at_y}, 1.8, tint, seen_to_fall});
            if (!seen_to_fall)
                left_out[std::string(words_for(figure->status))][run->key.polarity].push_back(
                    run->key.replicate);
            sum += place_s;
            ++measured;
        } else {
            draw_bound(picture, x, place_s, figure->at_least_s.has_value(), at_y, tint);
            if (figure->at_least_s)
                lower_bound_s = std::min(place_s, lower_bound_s.value_or(place_s));
            else
                upper_bound_s = std::max(place_s, upper_bound_s.value_or(place_s));
        }
    }
    if (lower_bound_s) draw_bound_text(picture, x, *lower_bound_s, true, y);
    if (upper_bound_s) draw_bound_text(picture, x, *upper_bound_s, false, y);
    if (all_measured && measured > 1) {
        const double mean = x.at(x.clamped(sum / measured)), half = height_of(row) / 2 - 1;
        picture.line({mean, y - half}, {mean, y + half}, Tint::ink, 1.1);
    }
    std::string note;
    for (const auto& [why, replicates] : left_out) {
        std::size_t count = 0;
        std::string names;
        for (const auto& [polarity, numbers] : replicates) {
            count += numbers.size();
            names += fmt::format("{}{} {}", names.empty() ? "" : ", ",
                                 polarity == plan::Polarity::positive ? "+" : "−", ranges_text(numbers));
        }
        if (count == row.runs.size() && count > 1) names = "all";
        note += fmt::format("{}{}: {}", note.empty() ? "" : "; ", names, why);
    }
    return note;
}

/// Returns the mean in figures.
std::string draw_mean(Picture& picture, const judge::Finding& finding, const Scale& x, double y) {
    const double at = x.at(x.clamped(*finding.value_s));
    if (finding.bound != judge::BoundKind::value) {
        const bool at_least = finding.bound == judge::BoundKind::at_least;
        draw_bound(picture, x, *finding.value_s, at_least, y, Tint::ink);
        draw_bound_text(picture, x, *finding.value_s, at_least, y);
        return "";
    }
    if (finding.expanded_u_s) draw_whisker(picture, x, *finding.value_s, *finding.expanded_u_s, y, Tint::ink);
    picture.line({at, y - 4}, {at, y + 4}, Tint::ink, 1.6);
    if (!finding.expanded_u_s) return result_text(finding);
    return plus_minus_text(*finding.value_s, finding.expanded_u_s, "s");
}

/// A diamond on a line from the left, as all that is shorter is meant; beyond the axis an arrow. Returns the
/// bound in figures.
std::string draw_lot_bound(Picture& picture, double bound_s, const Scale& x, double y) {
    const double left = x.at(x.low()), at = x.at(x.clamped(bound_s));
    picture.line({left, y}, {at, y}, Tint::ink, 0.9);
    if (x.holds(bound_s))
        picture.shapes.emplace_back(
            Area{{{at - 3.2, y}, {at, y - 3.2}, {at + 3.2, y}, {at, y + 3.2}}, Tint::ink});
    else
        picture.shapes.emplace_back(
            Polyline{{{at - 3, y - 2.2}, {at, y}, {at - 3, y + 2.2}}, Tint::ink, 0.9, Dash::solid});
    return "at most " + significant_text(bound_s, 3) + " s";
}

/// A hatch between thin edges, which says "band" in grey as well; the limit itself is dashed.
void draw_guard(Picture& picture, const GuardBand& guard, const Scale& x, double top, double bottom) {
    constexpr double spacing = 3.2;
    const double left = x.at(x.clamped(guard.limit_s - guard.width_s)),
                 right = x.at(x.clamped(guard.limit_s + guard.width_s));
    // Lines x + y = k * spacing: rows that follow each other continue each other's.
    for (double sum = std::ceil((left + top) / spacing) * spacing; sum < right + bottom; sum += spacing) {
        const double from = std::max(left, sum - bottom), to = std::min(right, sum - top);
        if (to > from) picture.line({from, sum - from}, {to, sum - to}, Tint::rule, 0.5);
    }
    for (const double edge : {left, right}) picture.line({edge, top}, {edge, bottom}, Tint::muted, 0.35);
}

/// The widths of the bands at a limit: "0.02 s", "0.018 s to 0.040 s"; empty without any.
std::string guard_text(const std::vector<DotRow>& rows, double limit_s) {
    double least = 0, most = 0;
    for (const DotRow& row : rows)
        for (const GuardBand& guard : row.guards) {
            if (guard.limit_s != limit_s) continue;
            least = most == 0 ? guard.width_s : std::min(least, guard.width_s);
            most = std::max(most, guard.width_s);
        }
    if (most == 0) return "";
    const std::string low = significant_text(least, 2), high = significant_text(most, 2);
    return low == high ? high + " s" : fmt::format("{} s to {} s", low, high);
}

void draw_limits(Picture& picture, const std::vector<DotRow>& rows, const std::vector<double>& limits,
                 const Scale& x, double bottom) {
    double label_end = 0;
    for (const double limit_s : limits) {
        const double at = x.at(x.clamped(limit_s));
        picture.line({at, top_margin - 4}, {at, bottom}, Tint::ink, 0.7, Dash::dashed);
        std::string text = fmt::format("limit {} s", shortest_text(limit_s));
        if (const std::string guard = guard_text(rows, limit_s); !guard.empty())
            text += fmt::format(", guard band w = {} (hatched)", guard);
        const double half = estimated_width(text, text_size) / 2;
        const bool free = at - half > label_end;
        picture.shapes.emplace_back(
            Label{{at, top_margin - (free ? 6 : 13)}, text, Tint::ink, Anchor::middle, text_size, true});
        if (free) label_end = at + half;
    }
}

void draw_row(Picture& picture, const DotRow& row, const plan::Level& level, const Scale& x, double y) {
    const double left = x.at(x.low()), right = x.at(x.high());
    if (row.group_head) {
        picture.shapes.emplace_back(Label{{0, y + 3},
                                          fitted(row.label, text_size + 0.5, left + 60),
                                          Tint::ink,
                                          Anchor::start,
                                          text_size + 0.5,
                                          true});
        return;
    }
    picture.line({left, y}, {right, y}, Tint::rule, 0.4);
    picture.shapes.emplace_back(Label{{8, y + 2.4}, fitted(row.label, text_size, left - 14), Tint::ink});
    const std::string note = row.lot_bound_s       ? draw_lot_bound(picture, *row.lot_bound_s, x, y)
                             : row.mean != nullptr ? draw_mean(picture, *row.mean, x, y)
                                                   : draw_runs(picture, row, level, x, y);
    picture.shapes.emplace_back(
        Label{{right + 6, y + 2.4}, fitted(note, text_size, note_width - 6), Tint::muted});
}

void draw_axis(Picture& picture, const Scale& x, double y, const plan::Level& level) {
    picture.line({x.at(x.low()), y}, {x.at(x.high()), y}, Tint::muted, 0.4);
    for (const Tick& tick : x.ticks(8)) {
        const double at = x.at(tick.value);
        picture.line({at, y}, {at, y + 2.5}, Tint::muted, 0.4);
        picture.shapes.emplace_back(Label{{at, y + 9.5}, tick.text, Tint::muted, Anchor::middle});
    }
    picture.shapes.emplace_back(Label{{x.at(x.high()), y + 19},
                                      fmt::format("decay time t({}), s", level.label()),
                                      Tint::muted,
                                      Anchor::end});
}

void add_bounds(std::vector<DotRow>& rows, std::span<const LotBoundRow> bounds) {
    std::string claim;
    for (const LotBoundRow& one : bounds) {
        if (one.claim != claim) rows.push_back({one.claim, true, {}, nullptr, {}, {}});
        claim = one.claim;
        rows.push_back({one.lot, false, {}, nullptr, {}, one.upper_s});
    }
}

}  // namespace

std::vector<Picture> dot_plots(const judge::Judgement& judgement, const plan::Order& order,
                               const plan::Level& level, double width, std::span<const LotBoundRow> bounds) {
    std::vector<DotRow> rows = dot_rows(judgement, order, level);
    if (!rows.empty()) add_bounds(rows, bounds);
    const std::vector<double> limits = limits_on(judgement, level);
    const double left = label_width, right = width - note_width;
    const auto x = scale_of(rows, limits, level, left, right);
    if (!x) return {};

    std::vector<Picture> pictures;
    for (std::size_t first = 0; first < rows.size();) {
        Picture picture{width, 0, "", {}};
        picture.description = fmt::format(
            "Decay times to {} of every run against the limit, one row a specimen.", level.label());
        for (const double limit_s : limits)
            if (const std::string guard = guard_text(rows, limit_s); !guard.empty())
                picture.description +=
                    fmt::format(" Hatched on either side of the limit {} s: its guard band, {}.",
                                shortest_text(limit_s), guard);
        double y = top_margin;
        std::size_t last = first;
        for (; last < rows.size() && y < most_height; ++last) y += height_of(rows[last]);
        // Beneath the dots.
        double top = top_margin;
        for (std::size_t i = first; i < last; ++i) {
            for (const GuardBand& guard : rows[i].guards)
                draw_guard(picture, guard, *x, top, top + height_of(rows[i]));
            top += height_of(rows[i]);
        }
        draw_limits(picture, rows, limits, *x, y + 3);
        y = top_margin;
        for (; first < last; ++first) {
            const double height = height_of(rows[first]);
            draw_row(picture, rows[first], level, *x, y + height / 2);
            y += height;
        }
        draw_axis(picture, *x, y + 3, level);
        picture.height = y + 3 + bottom_margin;
        pictures.push_back(std::move(picture));
    }
    return pictures;
}

}  // namespace ebbtide::report
