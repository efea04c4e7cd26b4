#include "report/dot_plot.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <map>
#include <optional>

#include "basis/number_text.hpp"
#include "report/scale.hpp"
#include "report/words.hpp"

namespace ebbtide::report {
namespace {

constexpr double label_width = 118, note_width = 96;
constexpr double row_height = 11, top_margin = 18, bottom_margin = 21;
constexpr std::size_t rows_per_picture = 46;
constexpr double text_size = 6.5;

struct Row {
    std::string label;
    bool group_head = false;
    std::vector<const judge::JudgedRun*> runs;
    const judge::Finding* mean = nullptr;
};

const decay::LevelFigure* figure_at(const judge::JudgedRun& run, const plan::Level& level) {
    if (!run.figures) return nullptr;
    for (const decay::LevelFigure& figure : run.figures->levels)
        if (figure.level.kind == level.kind && figure.level.value == level.value) return &figure;
    return nullptr;
}

std::vector<const judge::RequirementOutcome*> requirements_on(const judge::Judgement& judgement,
                                                              const plan::Level& level) {
    std::vector<const judge::RequirementOutcome*> found;
    for (const judge::RequirementOutcome& outcome : judgement.requirements)
        if (outcome.requirement.level.kind == level.kind && outcome.requirement.level.value == level.value)
            found.push_back(&outcome);
    return found;
}

std::vector<Row> rows_of(const judge::Judgement& judgement, const plan::Order& order,
                         const plan::Level& level) {
    // Groups and specimens in the order in which the runs name them.
    std::vector<std::string> groups;
    std::vector<std::pair<std::string, std::string>> specimens;  // group, specimen
    std::map<std::string, std::vector<const judge::JudgedRun*>> runs;
    for (const judge::JudgedRun& run : judgement.runs) {
        if (!runs.contains(run.key.specimen)) {
            const plan::Specimen* specimen = order.specimen(run.key.specimen);
            std::string group;
            if (specimen != nullptr) {
                group = specimen->direction;
                if (!specimen->state.empty()) group += (group.empty() ? "" : ", ") + specimen->state;
            }
            if (std::ranges::find(groups, group) == groups.end()) groups.push_back(group);
            specimens.emplace_back(group, run.key.specimen);
        }
        runs[run.key.specimen].push_back(&run);
    }
    std::vector<Row> rows;
    for (const std::string& group : groups) {
        if (!group.empty()) rows.push_back({group, true, {}, nullptr});
        for (const auto& [of_group, specimen] : specimens)
            if (of_group == group) rows.push_back({specimen, false, runs[specimen], nullptr});
    }
    bool headed = false;
    for (const judge::RequirementOutcome* outcome : requirements_on(judgement, level)) {
        if (outcome->requirement.statistic != plan::Statistic::mean) continue;
        for (const judge::Finding& finding : outcome->findings) {
            if (!finding.value_s) continue;
            if (!headed) rows.push_back({"means, with U at 95 %", true, {}, nullptr});
            headed = true;
            rows.push_back({finding.group, false, {}, &finding});
        }
    }
    return rows;
}

std::optional<double> place_of(const decay::LevelFigure& figure) {
    if (figure.decay_s) return figure.decay_s;
    return figure.at_least_s ? figure.at_least_s : figure.at_most_s;
}

/// Holds the measured times, the limits and a little air. Bounds beyond do not stretch it: their arrows point
/// over its edge with the bound beside them.
std::optional<Scale> scale_of(const std::vector<Row>& rows, const std::vector<double>& limits,
                              const plan::Level& level, double from, double to) {
    double high = 0, low = 0;
    const auto include = [&](double t) {
        if (!(t > 0)) return;
        high = std::max(high, t);
        low = low == 0 ? t : std::min(low, t);
    };
    double bound = 0;
    for (const Row& row : rows) {
        for (const judge::JudgedRun* run : row.runs) {
            const decay::LevelFigure* figure = figure_at(*run, level);
            if (figure == nullptr) continue;
            if (figure->decay_s) include(*figure->decay_s + 2 * figure->u_decay_s.value_or(0));
            if (figure->at_most_s) include(*figure->at_most_s);
            if (figure->at_least_s) bound = std::max(bound, *figure->at_least_s);
        }
        if (row.mean != nullptr && row.mean->bound == judge::BoundKind::value)
            include(*row.mean->value_s + row.mean->expanded_u_s.value_or(0));
    }
    for (const double limit : limits) include(limit);
    if (high == 0) include(bound);
    if (high == 0) return {};
    if (high / low > 20) return Scale(Scale::Kind::logarithmic, low / 1.6, high * 1.6, from, to);
    return Scale(Scale::Kind::linear, 0, high * 1.18, from, to);
}

/// An open dot with an arrow towards what is unknown, and the bound itself beside it.
void draw_bound(Picture& picture, const Scale& x, double bound_s, bool at_least, double y, Tint tint) {
    const double direction = at_least ? 1 : -1;
    const double at = std::min(x.at(x.clamped(bound_s)), x.at(x.high()) - 10);
    const double from = at + direction * 2.2, tip = at + direction * 9;
    picture.line({from, y}, {tip, y}, tint, 0.6);
    picture.shapes.emplace_back(
        Polyline{{{tip - direction * 2.4, y - 1.8}, {tip, y}, {tip - direction * 2.4, y + 1.8}},
                 tint,
                 0.6,
                 Dash::solid});
    picture.shapes.emplace_back(Disc{{at, y}, 1.9, tint, false});
    const std::string text = fmt::format("{} {}", at_least ? ">" : "<", significant_text(bound_s, 3));
    const double near = at - direction * 5, far = near - direction * estimated_width(text, text_size);
    picture.shapes.emplace_back(
        Area{{{near, y - 3.4}, {far, y - 3.4}, {far, y + 3.4}, {near, y + 3.4}}, Tint::paper});
    picture.shapes.emplace_back(
        Label{{near, y + text_size * 0.36}, text, tint, at_least ? Anchor::end : Anchor::start});
}

void draw_whisker(Picture& picture, const Scale& x, double middle, double half_width, double y, Tint tint) {
    const double left = x.at(x.clamped(middle - half_width)), right = x.at(x.clamped(middle + half_width));
    picture.line({left, y}, {right, y}, tint, 0.5);
    for (const double end : {left, right}) picture.line({end, y - 1.4}, {end, y + 1.4}, tint, 0.5);
}

/// The dots of a row; returns what is to be said of the runs that do not count or have no time.
std::string draw_runs(Picture& picture, const Row& row, const plan::Level& level, const Scale& x, double y) {
    std::map<std::string, std::vector<std::string>> left_out;  // why -> "+ 1"
    double sum = 0;
    int measured = 0;
    bool all_measured = true;
    for (const judge::JudgedRun* run : row.runs) {
        const bool positive = run->key.polarity == plan::Polarity::positive;
        const double at_y = y + (positive ? -2.3 : 2.3);
        const Tint tint = positive ? Tint::positive : Tint::negative;
        const std::string name = fmt::format("{} {}", positive ? "+" : "−", run->key.replicate);
        const decay::LevelFigure* figure = figure_at(*run, level);
        const std::optional<double> found = figure == nullptr ? std::nullopt : place_of(*figure);
        const bool placed = found.has_value();
        const double place_s = found.value_or(0);
        if (!run->counts)
            left_out["does not count"].push_back(name);
        else if (!placed)
            left_out[figure == nullptr ? "no figures" : std::string(words_for(figure->status))].push_back(
                name);
        if (run->counts && (!placed || !figure->decay_s)) all_measured = false;
        if (!placed) continue;
        const double at_x = x.at(x.clamped(place_s));
        if (!run->counts) {
            for (const double slope : {-1.0, 1.0})
                picture.line({at_x - 1.7, at_y - slope * 1.7}, {at_x + 1.7, at_y + slope * 1.7}, Tint::muted,
                             0.6);
        } else if (figure->decay_s) {
            if (figure->u_decay_s) draw_whisker(picture, x, place_s, 2 * *figure->u_decay_s, at_y, tint);
            picture.shapes.emplace_back(Disc{{at_x, at_y}, 1.8, tint, true});
            sum += place_s;
            ++measured;
        } else {
            draw_bound(picture, x, place_s, figure->at_least_s.has_value(), at_y, tint);
        }
    }
    if (all_measured && measured > 1) {
        const double mean = x.at(x.clamped(sum / measured));
        picture.line({mean, y - 4.6}, {mean, y + 4.6}, Tint::ink, 1.1);
    }
    std::string note;
    for (const auto& [why, names] : left_out) {
        if (!note.empty()) note += "; ";
        for (std::size_t i = 0; i < names.size(); ++i) note += (i == 0 ? "" : ", ") + names[i];
        note += " " + why;
    }
    return note;
}

/// Returns the mean in figures.
std::string draw_mean(Picture& picture, const judge::Finding& finding, const Scale& x, double y) {
    const double at = x.at(x.clamped(*finding.value_s));
    if (finding.bound != judge::BoundKind::value) {
        draw_bound(picture, x, *finding.value_s, finding.bound == judge::BoundKind::at_least, y, Tint::ink);
        return "";
    }
    if (finding.expanded_u_s) draw_whisker(picture, x, *finding.value_s, *finding.expanded_u_s, y, Tint::ink);
    picture.line({at, y - 4}, {at, y + 4}, Tint::ink, 1.6);
    if (!finding.expanded_u_s) return result_text(finding);
    const std::string u = significant_text(*finding.expanded_u_s, 2);
    const auto point = u.find('.');
    const int places = point == std::string::npos ? 0 : static_cast<int>(u.size() - point - 1);
    return fmt::format("{} ± {} s", fixed_text(*finding.value_s, places), u);
}

}  // namespace

std::vector<Picture> dot_plots(const judge::Judgement& judgement, const plan::Order& order,
                               const plan::Level& level, double width) {
    const std::vector<Row> rows = rows_of(judgement, order, level);
    std::vector<double> limits;
    for (const judge::RequirementOutcome* outcome : requirements_on(judgement, level))
        if (std::ranges::find(limits, outcome->requirement.limit_s) == limits.end())
            limits.push_back(outcome->requirement.limit_s);
    std::ranges::sort(limits);
    const double left = label_width, right = width - note_width;
    const auto x = scale_of(rows, limits, level, left, right);
    if (!x) return {};

    std::vector<Picture> pictures;
    for (std::size_t first = 0; first < rows.size(); first += rows_per_picture) {
        const std::size_t last = std::min(rows.size(), first + rows_per_picture);
        const double bottom = top_margin + row_height * static_cast<double>(last - first) + 3;
        Picture picture{width, bottom + bottom_margin, "", {}};
        picture.description = fmt::format(
            "Decay times to {} of every run against the limit, one row a specimen.", level.label());
        double label_end = 0;
        for (const double limit_s : limits) {
            const double at = x->at(x->clamped(limit_s));
            picture.line({at, top_margin - 4}, {at, bottom}, Tint::ink, 0.7, Dash::dashed);
            const std::string text = fmt::format("limit {} s", shortest_text(limit_s));
            const double half = estimated_width(text, text_size) / 2;
            const bool free = at - half > label_end;
            picture.shapes.emplace_back(
                Label{{at, top_margin - (free ? 6 : 13)}, text, Tint::ink, Anchor::middle, text_size, true});
            if (free) label_end = at + half;
        }
        for (std::size_t i = first; i < last; ++i) {
            const Row& row = rows[i];
            const double y = top_margin + row_height * (static_cast<double>(i - first) + 0.5);
            if (row.group_head) {
                picture.shapes.emplace_back(Label{{0, y + 3},
                                                  fitted(row.label, text_size + 0.5, left + 60),
                                                  Tint::ink,
                                                  Anchor::start,
                                                  text_size + 0.5,
                                                  true});
                continue;
            }
            picture.line({left, y}, {right, y}, Tint::rule, 0.4);
            picture.shapes.emplace_back(
                Label{{8, y + 2.4}, fitted(row.label, text_size, left - 14), Tint::ink, Anchor::start});
            std::string note;
            if (row.mean != nullptr)
                note = draw_mean(picture, *row.mean, *x, y);
            else
                note = draw_runs(picture, row, level, *x, y);
            picture.shapes.emplace_back(
                Label{{right + 6, y + 2.4}, fitted(note, text_size, note_width - 6), Tint::muted});
        }
        picture.line({left, bottom}, {right, bottom}, Tint::muted, 0.4);
        for (const Tick& tick : x->ticks(8)) {
            picture.line({x->at(tick.value), bottom}, {x->at(tick.value), bottom + 2.5}, Tint::muted, 0.4);
            picture.shapes.emplace_back(
                Label{{x->at(tick.value), bottom + 9.5}, tick.text, Tint::muted, Anchor::middle});
        }
        picture.shapes.emplace_back(Label{{right, bottom + 19},
                                          fmt::format("decay time t({}), s", level.label()),
                                          Tint::muted,
                                          Anchor::end});
        pictures.push_back(std::move(picture));
    }
    return pictures;
}

}  // namespace ebbtide::report
