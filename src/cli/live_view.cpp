#include "cli/live_view.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "basis/number_text.hpp"
#include "cli/print.hpp"

namespace ebbtide::cli {
namespace {

constexpr std::size_t troubles_kept = 3;

void add_trouble(LiveState& state, std::string text) {
    // The same trouble again is no news.
    std::erase(state.troubles, text);
    state.troubles.push_back(std::move(text));
    if (state.troubles.size() > troubles_kept) state.troubles.erase(state.troubles.begin());
}

std::string volts_text(double value_V) {
    if (value_V == 0) return "0 V";
    // A monitor output has volts where the bench has kilovolts.
    return std::abs(value_V) < 100 ? fmt::format("{:+.2f} V", value_V) : fmt::format("{:+.0f} V", value_V);
}

/// Takes events one kind at a time; what a kind does not change stays.
struct Taking {
    LiveState& state;

    void operator()(const work::SourceOpened& event) const {
        state.source = event.source;
        state.ceiling = event.ceiling;
        state.specimen.reset();
        for (std::size_t i = 0; i < event.channels.size() && !state.specimen; ++i)
            if (event.channels[i].quantity == trace::Quantity::specimen_voltage) state.specimen = i;
        if (!state.driven) state.phase = "quiet: waiting for a charge";
    }
    void operator()(const work::Frame& event) const {
        if (!state.specimen || event.channels[*state.specimen].samples == 0) return;
        const auto& channel = event.channels[*state.specimen];
        const double a_V = state.scale.volts(channel.lowest), b_V = state.scale.volts(channel.highest);
        state.trace.push_back({std::min(a_V, b_V), std::max(a_V, b_V)});
        if (state.trace.size() > LiveState::points_kept) state.trace.pop_front();
        state.trace_time_s = event.to_s;
    }
    void operator()(const work::PlanChanged& event) const {
        state.places = event.places;
        state.next = event.next;
        state.reference = event.reference;
    }
    void operator()(const work::RunBegun& event) const {
        state.running = event.place ? event.place->label() : event.step;
        if (event.charge_start_s)
            state.phase = fmt::format("charge begun at {} s", fixed_text(*event.charge_start_s, 2));
        state.fallen.reset();
    }
    void operator()(const work::RunFallen& event) const {
        state.phase = "fallen: the tail is still awaited, leave the bench as it is";
        state.fallen = event.figures;
    }
    void operator()(const work::RunRecorded& event) const {
        if (!event.readings) state.phase = "recorded";
        state.running.clear();
        state.fallen.reset();
        state.last = event;
        state.readings = event.readings ? readings_text(*event.readings) : "";
        ++state.runs;
        if (!event.words.empty()) add_trouble(state, event.words);
    }
    void operator()(const work::RunCorrected& event) const {
        if (!state.last || state.last->file != event.file) return;
        if (event.place) {
            state.last->place = event.place;
            state.last->reference.reset();
            state.last->check.clear();
        }
        if (!event.set_aside.empty()) state.last->counts = false;
    }
    void operator()(const work::NoticeSeen& event) const { add_trouble(state, event.notice.text); }
    void operator()(const work::Prompt& event) const { add_trouble(state, event.text); }
    void operator()(const work::SourceEnded& event) const {
        state.phase = event.lost ? "broken off" : "ended";
        if (event.lost) add_trouble(state, event.reason);
    }
    void operator()(const work::SessionBegun& event) const {
        state.driven = !event.heard;
        state.phase = event.heard ? "quiet: waiting for a charge" : "the bench is made safe first";
        if (event.kind == work::SessionBegun::Kind::check)
            state.title = fmt::format("{} check of {}", event.closing ? "Closing" : "Opening", event.bench);
    }
    void operator()(const work::BenchFound& event) const {
        if (event.output_was_on) add_trouble(state, event.words);
    }
    void operator()(const work::PhaseEntered& event) const {
        state.phase = event.words;
        state.guards = event.guards;
    }
    void operator()(const work::GuardsChanged& event) const { state.guards = event.guards; }
    void operator()(const work::CommandSent&) const {}
    void operator()(const work::CommandRefused& event) const { add_trouble(state, event.words); }
    void operator()(const work::MayBeLive& event) const { add_trouble(state, event.words); }
    void operator()(const work::QuestionAsked& event) const {
        state.question = event.question.words;
        // What went wrong stands above it already.
        if (!state.troubles.empty() && state.question.starts_with(state.troubles.back() + " "))
            state.question.erase(0, state.troubles.back().size() + 1);
    }
    void operator()(const work::QuestionAnswered&) const { state.question.clear(); }
    void operator()(const work::CheckOverridden&) const {}
    void operator()(const work::StepRecorded& event) const {
        if (!state.driven) state.phase = "recorded";
        state.running.clear();
        state.fallen.reset();
        ++state.runs;
        state.readings = readings_text(event.readings);
    }
    void operator()(const work::RunAborted& event) const {
        if (!state.driven) state.phase = "not taken: the step is asked for again";
        state.running.clear();
        state.fallen.reset();
        add_trouble(state, event.words);
    }
    void operator()(const work::RunBrokenOff&) const {}
    void operator()(const work::BenchChecked& event) const {
        if (!event.good) add_trouble(state, event.reason);
    }
    void operator()(const work::SessionEnded& event) const {
        state.phase = event.done ? "ended" : "ended: " + event.words;
        state.guards.clear();
        if (!event.may_be_live.empty()) add_trouble(state, event.may_be_live);
    }
};

constexpr std::size_t trace_label = 9;  // columns beside the trace

/// Two a column.
std::size_t points_shown(const std::deque<LiveState::Point>& trace, std::size_t columns) {
    return std::min(trace.size(), 2 * (std::max(columns, trace_label + 1) - trace_label));
}

/// Dots of a character of 2 by 4, as Unicode numbers them.
constexpr unsigned dot_bits[2][4] = {{0x01, 0x02, 0x04, 0x40}, {0x08, 0x10, 0x20, 0x80}};

std::string braille(unsigned bits) {
    if (bits == 0) return " ";
    const unsigned code = 0x2800 + bits;
    std::string out;
    out += static_cast<char>(0xE0 | code >> 12);
    out += static_cast<char>(0x80 | (code >> 6 & 0x3F));
    out += static_cast<char>(0x80 | (code & 0x3F));
    return out;
}

const char* mark_of(const work::PlanPlace& place, bool next) {
    if (next) return "▸";
    if (place.filled) return "●";
    return place.runs > 0 ? "○" : "·";
}

/// Lines no wider than the screen.
struct Lines {
    std::size_t columns = 80;
    std::vector<std::string> lines = {};

    /// Blanks in front of the text stand in front of every line; following lines are indented to `indent`.
    void add(const std::string& text, std::size_t indent = 2) {
        const std::size_t lead = std::min(text.find_first_not_of(' '), text.size());
        const std::string all = wrapped(text.substr(lead), columns - lead, std::max(indent, lead) - lead);
        for (std::size_t at = 0; at <= all.size();) {
            const std::size_t end = std::min(all.find('\n', at), all.size());
            lines.push_back(std::string(lead, ' ') + all.substr(at, end - at));
            at = end + 1;
        }
    }
    void add(std::vector<std::string> more) {
        for (std::string& line : more) lines.push_back(std::move(line));
    }
};

/// The run that ended last.
void add_last(Lines& out, const LiveState& state) {
    if (!state.last) {
        if (!state.readings.empty()) out.add(fmt::format("run {}  {}", state.runs, state.readings), 7);
        return;
    }
    const work::RunRecorded& last = *state.last;
    out.add(fmt::format("run {}  {}{}{}", state.runs, run_label(last),
                        last.counts || last.reference ? "" : ", does not count", last.fails ? ", fails" : ""),
            7);
    for (const bench::CheckFigure& figure : last.check) out.add("       " + figure_line(figure), 9);
    if (last.check.empty()) out.add("       " + short_levels(last.run.figures), 7);
    if (!state.readings.empty()) out.add("       " + state.readings, 7);
    std::size_t shown = 0;
    for (const plan::Flag& flag : last.run.flags)
        if (flag.consequence != plan::Consequence::note && shown++ < 3)
            out.add(fmt::format("       {} {}: {}", plan::name_of(flag.consequence),
                                plan::facts(flag.code).name, flag.message),
                    9);
}

const char* mark_of(const work::LiveGuard& guard) {
    return !guard.met ? "·" : *guard.met ? "■" : "□";
}

}  // namespace

void take(LiveState& state, const work::LiveEvent& event) {
    std::visit(Taking{state}, event);
}

std::string run_label(const work::RunRecorded& recorded) {
    if (recorded.place) return recorded.place->label();
    const std::string sign = plan::sign_of(recorded.run.figures.polarity);
    return recorded.reference ? fmt::format("reference run, {} {}", plan::label_of(*recorded.reference), sign)
                              : sign;
}

std::string figure_line(const bench::CheckFigure& figure) {
    return fmt::format("{} {}", figure.within() ? "●" : "✕", figure.words());
}

std::string readings_text(const work::RunReadings& readings) {
    const auto volts = [](const std::optional<double>& value) {
        return value ? fixed_text(*value, 0) + " V" : std::string("not read");
    };
    return fmt::format("zero {}, residual {}, held {}", volts(readings.zero_V), volts(readings.residual_V),
                       volts(readings.held_V));
}

std::string short_levels(const decay::Figures& figures) {
    using decay::LevelStatus;
    std::string out;
    for (const decay::LevelFigure& level : figures.levels) {
        if (!out.empty()) out += ", ";
        out += fmt::format("t({}) ", level.level.label());
        if (level.status == LevelStatus::measured)
            out += uncertain_text(*level.decay_s, level.u_decay_s) + " s";
        else if (level.status == LevelStatus::below_resolution && level.at_most_s)
            out += fmt::format("under {} s", significant_text(*level.at_most_s, 2));
        else if (level.at_least_s)
            out += fmt::format("over {} s", significant_text(*level.at_least_s, 3));
        else
            out += plan::in_words(decay::name_of(level.status));
    }
    return out;
}

std::vector<std::string> trace_lines(const std::deque<LiveState::Point>& trace, std::size_t height,
                                     std::size_t columns) {
    std::vector<std::string> lines;
    const std::size_t shown = points_shown(trace, columns), first = trace.size() - shown;
    if (shown == 0 || height == 0) return lines;
    double lowest_V = 0, highest_V = 0;  // zero is always in sight
    for (std::size_t i = first; i < trace.size(); ++i) {
        lowest_V = std::min(lowest_V, trace[i].lowest_V);
        highest_V = std::max(highest_V, trace[i].highest_V);
    }
    if (highest_V - lowest_V < 1e-300) highest_V = lowest_V + 1;
    columns = (shown + 1) / 2;
    const std::size_t dots = 4 * height;
    std::vector<unsigned> bits(columns * height);
    const auto dot_of = [&](double value_V) {
        const double share = (value_V - lowest_V) / (highest_V - lowest_V);
        return static_cast<std::size_t>(std::clamp(share, 0.0, 1.0) * static_cast<double>(dots - 1) + 0.5);
    };
    for (std::size_t i = 0; i < shown; ++i)
        for (std::size_t dot = dot_of(trace[first + i].lowest_V); dot <= dot_of(trace[first + i].highest_V);
             ++dot) {
            const std::size_t down = dots - 1 - dot;
            bits[down / 4 * columns + i / 2] |= dot_bits[i % 2][down % 4];
        }
    for (std::size_t row = 0; row < height; ++row) {
        std::string line;
        for (std::size_t c = 0; c < columns; ++c) line += braille(bits[row * columns + c]);
        const std::string beside = row == 0            ? volts_text(highest_V)
                                   : row + 1 == height ? volts_text(lowest_V)
                                                       : "";
        lines.push_back(padded(beside, trace_label) + line);
    }
    return lines;
}

std::vector<std::string> plan_lines(const std::vector<work::PlanPlace>& places,
                                    std::optional<std::size_t> next, ScreenSize size) {
    const std::size_t rows = size.rows;
    // One cell a specimen and face; its marks by polarity, a mark a replicate.
    std::vector<std::string> lines;
    std::string line, cell;
    std::size_t line_of_next = 0;
    bool next_in_cell = false;
    const auto end_cell = [&] {
        if (cell.empty()) return;
        if (!line.empty() && seen_columns(line) + 3 + seen_columns(cell) > size.columns) {
            lines.push_back(line);
            line.clear();
        }
        line += (line.empty() ? "" : "   ") + cell;
        if (next_in_cell) line_of_next = lines.size();
        next_in_cell = false;
        cell.clear();
    };
    for (std::size_t i = 0; i < places.size(); ++i) {
        const plan::RunKey& key = places[i].key;
        const bool new_cell =
            i == 0 || places[i - 1].key.specimen != key.specimen || places[i - 1].key.face != key.face;
        if (new_cell) {
            end_cell();
            cell = key.specimen + " " + key.face;
        }
        if (new_cell || places[i - 1].key.polarity != key.polarity)
            cell += fmt::format(
                " {}", places[i].either_polarity && places[i].runs == 0 ? "±" : plan::sign_of(key.polarity));
        cell += mark_of(places[i], next == i);
        next_in_cell = next_in_cell || next == i;
    }
    end_cell();
    if (!line.empty()) lines.push_back(line);
    if (lines.size() <= rows || rows == 0) {
        if (rows == 0) lines.clear();
        return lines;
    }
    // The lines around the next place.
    const std::size_t first =
        std::min(line_of_next > rows / 2 ? line_of_next - rows / 2 : 0, lines.size() - rows);
    return {lines.begin() + static_cast<std::ptrdiff_t>(first),
            lines.begin() + static_cast<std::ptrdiff_t>(first + rows)};
}

std::vector<std::string> live_lines(const LiveState& state, ScreenSize size) {
    Lines out{size.columns};
    out.add(state.title);
    out.add(fmt::format("from {}{}", state.source, state.ceiling.empty() ? "" : " (" + state.ceiling + ")"));
    out.add(trace_lines(state.trace, size.rows >= 40 ? 10 : size.rows >= 24 ? 6 : 3, size.columns));
    if (!state.trace.empty())
        out.add(fmt::format("{}the last {} s, up to {} s", std::string(trace_label, ' '),
                            fixed_text(static_cast<double>(points_shown(state.trace, size.columns)) / 10, 0),
                            fixed_text(state.trace_time_s, 1)));
    if (!state.running.empty()) out.add("runs   " + state.running, 7);
    out.add("now    " + state.phase, 7);
    for (const work::LiveGuard& guard : state.guards)
        out.add(fmt::format("       {} {}{}", mark_of(guard), guard.words,
                            guard.met == false && !guard.remedy.empty() ? ": " + guard.remedy : ""),
                9);
    if (state.fallen) out.add("so far " + short_levels(*state.fallen), 7);
    add_last(out, state);
    Lines below{size.columns};
    for (const std::string& trouble : state.troubles) below.add("!      " + trouble, 7);
    if (!state.question.empty()) below.add("?      " + state.question, 7);
    if (!state.typing.empty()) below.add(state.typing);
    if (!state.keys.empty()) below.add(state.keys);
    const std::size_t used = out.lines.size() + below.lines.size() + 1;
    if (!state.places.empty()) {
        out.add(state.reference ? fmt::format("next   a reference run, {}: it goes to no place",
                                              plan::label_of(*state.reference))
                : state.next    ? "next   " + state.places[*state.next].key.label()
                                : std::string("next   no place is open: the plan is full"));
        out.add(
            plan_lines(state.places, state.next, {used < size.rows ? size.rows - used : 1, size.columns}));
    }
    // What the person must know comes before what went before.
    const std::size_t room = size.rows - std::min(size.rows, below.lines.size());
    if (out.lines.size() > room) out.lines.resize(room);
    out.add(std::move(below.lines));
    if (out.lines.size() > size.rows) out.lines.resize(size.rows);
    return out.lines;
}

}  // namespace ebbtide::cli
