#include "recording/channels.hpp"

#include <algorithm>
#include <array>
#include <charconv>
#include <cmath>

#include <fmt/format.h>
#include <fmt/ranges.h>

#include "basis/number_text.hpp"
#include "recording/cells.hpp"
#include "recording/headings.hpp"
#include "recording/stated.hpp"

namespace ebbtide::recording {

namespace {

using trace::Quantity;

// A column with what its heading says.
struct Candidate {
    int column = 0;
    const SeenColumn* seen = nullptr;
    Heading heading;
    Meaning meaning;
    bool clock = false;
    Dimension dimension = Dimension::other;
    bool has_unit = false;
    Quantity quantity = Quantity::other;
    bool is_time = false;
    bool is_index = false;
    int rank = 0;  ///< 1 to 3 for what may be a voltage: said so, unknown, converter codes
};

std::string label(const Candidate& c) {
    return c.seen->heading.empty() ? fmt::format("column {}", c.column + 1)
                                   : fmt::format("column {} '{}'", c.column + 1, c.seen->heading);
}

std::string shown(const std::vector<Candidate>& all) {
    std::string out;
    constexpr std::size_t most = 12;
    for (const Candidate& c : all) {
        if (static_cast<std::size_t>(&c - all.data()) == most) {
            out += fmt::format("; and {} more", all.size() - most);
            break;
        }
        if (!out.empty()) out += "; ";
        out += label(c);
        std::string unit = c.seen->unit;
        if (unit.empty() && c.heading.unit) unit = c.heading.unit->text;
        out += " (" + (unit.empty() ? "no unit" : unit);
        if (!c.seen->first_cells.empty())
            out += fmt::format(", begins {}", fmt::join(c.seen->first_cells, " "));
        out += ")";
    }
    return out;
}

std::vector<Candidate> candidates_of(const Layout& layout) {
    std::vector<Candidate> all;
    for (std::size_t i = 0; i < layout.columns.size(); ++i) {
        const SeenColumn& seen = layout.columns[i];
        if (seen.holds != SeenColumn::Holds::numbers && seen.holds != SeenColumn::Holds::clock_times)
            continue;
        Candidate c;
        c.column = static_cast<int>(i);
        c.seen = &seen;
        c.clock = seen.holds == SeenColumn::Holds::clock_times;
        c.heading = read_heading(seen.heading);
        if (!seen.unit.empty() && seen.unit != "-") {
            c.heading.unit = read_unit(seen.unit);
            if (!c.heading.unit) c.heading.unit = Unit{seen.unit, Dimension::other, 1};
        }
        c.meaning = meaning_of(c.heading.name);
        c.has_unit = c.heading.unit.has_value();
        if (c.has_unit) c.dimension = c.heading.unit->dimension;
        all.push_back(c);
    }
    return all;
}

// What the words and the unit of one column say, before columns are weighed against each other.
void judge(Candidate& c) {
    const Meaning& m = c.meaning;
    if (c.clock || (c.has_unit && c.dimension == Dimension::time)) {
        c.is_time = true;
    } else if (c.has_unit && c.dimension != Dimension::voltage && c.dimension != Dimension::codes) {
        if (c.dimension == Dimension::temperature) c.quantity = Quantity::temperature;
        // A per cent sign is humidity only where the words do not say something else.
        if (c.dimension == Dimension::humidity && (m.humidity || c.heading.unit->text != "%"))
            c.quantity = Quantity::relative_humidity;
    } else if (c.has_unit && c.dimension == Dimension::voltage) {
        c.rank = 1;
    } else if (m.humidity) {
        c.quantity = Quantity::relative_humidity;
    } else if (m.temperature) {
        c.quantity = Quantity::temperature;
    } else if (m.codes || c.dimension == Dimension::codes) {
        c.rank = c.seen->counting && m.index && !c.has_unit ? 0 : 3;
    } else if (m.marker) {
        c.quantity = Quantity::release_marker;
    } else if (m.index && c.seen->counting) {
        c.is_index = true;
    } else if (m.time && !m.specimen && !m.electrode) {
        c.is_time = true;
    } else if (m.specimen || m.electrode || m.voltage) {
        c.rank = 1;
    } else if (!m.other) {
        c.rank = 2;
    }
    if (c.rank > 0 && m.marker) {
        c.quantity = Quantity::release_marker;
        c.rank = 0;
    }
}

class Planner {
  public:
    Planner(const Layout& layout, const ReadOptions& options, const std::string& name)
        : layout_(layout), options_(options), name_(name), all_(candidates_of(layout)) {
        for (Candidate& c : all_) judge(c);
    }

    Result<ChannelPlan> plan() {
        if (auto error = apply_options()) return *error;
        if (auto error = find_time()) return *error;
        if (auto error = find_voltages()) return *error;
        for (const Candidate& c : all_)
            if (!c.is_time || set_aside(c)) add_channel(c);
        return std::move(plan_);
    }

  private:
    Error refuse(std::string what, std::string remedy) const {
        return {Fault::bad_input, fmt::format("{}. Seen: {}", what, shown(all_)), name_, std::move(remedy)};
    }

    Result<Candidate*> named(const std::string& text, std::string_view option) {
        std::vector<Candidate*> found;
        const std::string wanted = lowered(trimmed(text));
        for (Candidate& c : all_)
            if (lowered(trimmed(c.seen->heading)) == wanted) found.push_back(&c);
        if (found.empty())
            for (Candidate& c : all_)
                if (!c.heading.name.empty() && lowered(c.heading.name) == wanted) found.push_back(&c);
        int number = 0;
        const auto [end, error] = std::from_chars(wanted.data(), wanted.data() + wanted.size(), number);
        if (found.empty() && error == std::errc{} && end == wanted.data() + wanted.size())
            for (Candidate& c : all_)
                if (c.column + 1 == number) found.push_back(&c);
        if (found.size() == 1) return found[0];
        return refuse(
            found.empty() ? fmt::format("--{} {} names no column of numbers", option, text)
                          : fmt::format("--{} {} names {} columns", option, text, found.size()),
            fmt::format("Give --{} a heading as it stands above, or a column number from 1", option));
    }

    std::optional<Error> apply_options() {
        for (const auto& [text, option, place] : {std::tuple{&options_.time, "time", &time_},
                                                  std::tuple{&options_.specimen, "specimen", &specimen_},
                                                  std::tuple{&options_.electrode, "electrode", &electrode_},
                                                  std::tuple{&options_.marker, "marker", &marker_}}) {
            if (text->empty()) continue;
            const Result<Candidate*> found = named(*text, option);
            if (!found) return found.error();
            for (const Candidate* taken : {time_, specimen_, electrode_, marker_})
                if (taken == *found)
                    return refuse(
                        fmt::format("--{} {} names a column that another option names too", option, *text),
                        "Give each column one part");
            *place = *found;
        }
        for (Candidate* c : {specimen_, electrode_, marker_})
            if (c != nullptr) c->is_time = c->is_index = false;
        if (!options_.time_unit.empty()) {
            time_unit_ = read_unit(options_.time_unit);
            if (!time_unit_ || time_unit_->dimension != Dimension::time)
                return Error{Fault::bad_input, fmt::format("'{}' is no unit of time", options_.time_unit),
                             "--time-unit", "Give s, ms, us, ns, min or h"};
        }
        if (options_.sample_interval_s &&
            !(*options_.sample_interval_s >= 1e-15 && *options_.sample_interval_s <= 1e9))
            return Error{Fault::bad_input,
                         "the sample interval must be a number of seconds above zero (1e-15 to 1e9)",
                         "--sample-interval", "Give for instance 0.001"};
        return std::nullopt;
    }

    bool taken(const Candidate& c) const { return &c == specimen_ || &c == electrode_ || &c == marker_; }
    // A time column that serves no channel: it is shown, not used.
    bool set_aside(const Candidate& c) const {
        return std::ranges::none_of(plan_.axes,
                                    [&c](const TimeAxis& axis) { return axis.column == c.column; }) &&
               !c.clock;
    }

    std::optional<Error> find_time() {
        if (options_.sample_interval_s) {
            interval_s_ = *options_.sample_interval_s;
            remark(fmt::format("a sample every {} s as stated", shortest_text(interval_s_)));
            plan_.axes.push_back({-1, false, -1, interval_s_});
            return std::nullopt;
        }
        std::vector<Candidate*> times;
        if (time_ != nullptr) {
            time_->is_time = true;
            times = {time_};
        } else {
            for (Candidate& c : all_)
                if (c.is_time && !taken(c)) times.push_back(&c);
            keep_one_per_channel(times);
            if (times.empty()) times = first_increasing();
        }
        for (Candidate* c : times) c->is_time = true;
        for (const Candidate* c : times) add_axis(*c);
        if (!times.empty()) return std::nullopt;
        if (const auto found = stated_interval(layout_.metadata, layout_.decimal_sign)) {
            remark(fmt::format("a sample every {} s as line {} says ('{}')", shortest_text(found->interval_s),
                               found->line, found->key));
            plan_.axes.push_back({-1, false, -1, found->interval_s});
            return std::nullopt;
        }
        return refuse("no column holds the time",
                      "State how far apart the samples are, in seconds, for instance "
                      "--sample-interval 0.001; or name the column with --time");
    }

    // A pair "t1,v1,t2,v2" has a time column before each value; otherwise one serves all: one with a unit
    // before one without, numbers before times of day, and the last of several alike (the first may be a
    // date).
    void keep_one_per_channel(std::vector<Candidate*>& times) {
        if (times.size() < 2) return;
        bool each_has_values = true;
        for (std::size_t i = 0; i < times.size(); ++i) {
            const int from = times[i]->column;
            const int to = i + 1 < times.size() ? times[i + 1]->column : 1 << 30;
            each_has_values = each_has_values && std::ranges::any_of(all_, [from, to](const Candidate& c) {
                                  return c.column > from && c.column < to && !c.is_time && !c.is_index;
                              });
        }
        if (each_has_values && std::ranges::none_of(times, [](const Candidate* c) { return c->clock; }))
            return;
        const auto worth = [](const Candidate* c) { return (c->clock ? 0 : 2) + (c->has_unit ? 1 : 0); };
        // Date and time of day in columns of their own belong together.
        if (std::ranges::all_of(times, [](const Candidate* c) { return c->clock; })) {
            time_of_day_ = times[1];
            times = {times[0]};
            return;
        }
        Candidate* best = times.front();
        for (Candidate* c : times)
            if (worth(c) > worth(best)) best = c;
        times = {best};
    }

    std::vector<Candidate*> first_increasing() {
        std::size_t others = 0;
        for (const Candidate& c : all_) others += c.rank > 0 || taken(c) ? 1 : 0;
        if (all_.size() < 2) return {};
        for (Candidate& c : all_) {
            if (taken(c) || c.is_index || !c.seen->increasing ||
                (c.has_unit && c.dimension != Dimension::time))
                continue;
            const bool named_otherwise = c.quantity != Quantity::other || (c.rank == 1 && c.column > 0);
            if (named_otherwise || (c.rank > 0 && others < 2)) continue;
            c.rank = 0;
            if (layout_.headed)
                remark(fmt::format("{} grows from line to line: taken as the time", label(c)));
            return {&c};
        }
        return {};
    }

    void add_axis(const Candidate& c) {
        TimeAxis axis;
        axis.column = c.column;
        axis.clock = c.clock;
        if (time_of_day_ != nullptr) axis.time_of_day_column = time_of_day_->column;
        std::string unit = c.has_unit && c.dimension == Dimension::time ? c.heading.unit->text : "";
        if (c.has_unit && c.dimension == Dimension::time) axis.factor_s = c.heading.unit->factor_to_SI;
        if (c.clock) {
            remark(fmt::format("time of day in {}", label(c)));
        } else if (time_unit_) {
            axis.factor_s = time_unit_->factor_to_SI;
            remark(fmt::format("time in {} in {} as stated", label(c), time_unit_->text));
        } else if (!unit.empty()) {
            remark(fmt::format("time in {} in {}", label(c), unit));
        } else if (const auto found = stated_unit(layout_.metadata, Dimension::time)) {
            axis.factor_s = found->unit.factor_to_SI;
            remark(fmt::format("time in {} in {} as line {} says", label(c), found->unit.text, found->line));
        } else {
            remark(fmt::format("time in {} has no unit: taken as seconds (--time-unit states another)",
                               label(c)));
        }
        plan_.axes.push_back(axis);
    }

    std::optional<Error> find_voltages() {
        if (marker_ != nullptr) {
            for (Candidate& c : all_)
                if (c.quantity == Quantity::release_marker) c.quantity = Quantity::other;
            marker_->quantity = Quantity::release_marker;
        }
        std::vector<Candidate*> voltages;
        for (int rank = 1; rank <= 3 && voltages.empty(); ++rank)
            for (Candidate& c : all_)
                if (c.rank == rank && !c.is_time && !taken(c)) voltages.push_back(&c);
        const auto name_part = [&](Candidate*& part, bool Meaning::*word,
                                   std::string_view option) -> std::optional<Error> {
            if (part != nullptr) return std::nullopt;
            std::vector<Candidate*> found;
            for (Candidate* c : voltages)
                if (c->meaning.*word && !(c->meaning.specimen && c->meaning.electrode)) found.push_back(c);
            if (found.size() > 1)
                return refuse(fmt::format("{} columns may be the {} voltage", found.size(), option),
                              fmt::format("Name it: --{} with a heading or a column number", option));
            if (found.size() == 1 && voltages.size() + (specimen_ != nullptr ? 1 : 0) > 1) {
                part = found[0];
                std::erase(voltages, part);
            }
            return std::nullopt;
        };
        if (auto error = name_part(specimen_, &Meaning::specimen, "specimen")) return error;
        if (auto error = name_part(electrode_, &Meaning::electrode, "electrode")) return error;
        if (specimen_ == nullptr) {
            for (int rank = 2; rank <= 3 && voltages.empty(); ++rank)
                for (Candidate& c : all_)
                    if (c.rank == rank && !c.is_time && !taken(c)) voltages.push_back(&c);
            if (voltages.size() == 1) specimen_ = voltages[0];
        }
        if (specimen_ == nullptr && voltages.size() > 1)
            return refuse(
                fmt::format("{} columns may be the specimen voltage, and nothing tells which",
                            voltages.size()),
                "Name it: --specimen with a heading or a column number (and --electrode, --marker for the "
                "others, --time if one of them is the time)");
        const bool climate = std::ranges::any_of(all_, [](const Candidate& c) {
            return c.quantity == Quantity::relative_humidity || c.quantity == Quantity::temperature;
        });
        if (specimen_ == nullptr && !climate)
            return refuse("no column looks like a voltage",
                          "Name it: --specimen with a heading or a column number");
        if (specimen_ != nullptr) {
            specimen_->quantity = Quantity::specimen_voltage;
            remark(fmt::format("specimen voltage in {}{}", label(*specimen_),
                               specimen_->rank == 3 || specimen_->dimension == Dimension::codes
                                   ? ": converter codes, not volts"
                               : specimen_->has_unit || stated_unit(layout_.metadata, Dimension::voltage)
                                   ? ""
                                   : ": no unit, taken as volts"));
        }
        if (electrode_ != nullptr) {
            electrode_->quantity = Quantity::electrode_voltage;
            remark(fmt::format("electrode voltage in {}", label(*electrode_)));
        }
        for (const Candidate& c : all_) {
            if (c.rank == 3 && c.quantity == Quantity::other)
                remark(fmt::format("converter codes in {} left aside for the volts", label(c)));
            if (c.quantity == Quantity::release_marker) remark(fmt::format("release marker in {}", label(c)));
        }
        return std::nullopt;
    }

    void add_channel(const Candidate& c) {
        ChannelColumn channel;
        channel.column = c.column;
        channel.may_be_empty = c.seen->sparse || plan_.axes.size() > 1;
        for (std::size_t i = 0; i < plan_.axes.size(); ++i)
            if (plan_.axes[i].column < c.column) channel.axis = i;
        trace::ChannelDescription& d = channel.description;
        d.heading = c.seen->heading.empty() ? fmt::format("column {}", c.column + 1) : c.seen->heading;
        d.quantity = c.quantity;
        d.column = c.column + 1;
        if (c.has_unit) {
            d.unit = c.heading.unit->text;
            d.factor_to_SI = c.heading.unit->factor_to_SI;
        } else if (c.rank == 3) {
            d.unit = "codes";
        } else if (c.quantity == Quantity::specimen_voltage) {
            if (const auto found = stated_unit(layout_.metadata, Dimension::voltage)) {
                d.unit = found->unit.text;
                d.factor_to_SI = found->unit.factor_to_SI;
                remark(fmt::format("in {} as line {} says", d.unit, found->line));
            }
        }
        if (c.seen->sparse) remark(fmt::format("{} is filled on some lines only", label(c)));
        plan_.channels.push_back(std::move(channel));
    }

    void remark(std::string text) {
        if (plan_.remarks.size() < 24) plan_.remarks.push_back(std::move(text));
    }

    const Layout& layout_;
    const ReadOptions& options_;
    const std::string& name_;
    std::vector<Candidate> all_;
    Candidate* time_ = nullptr;
    Candidate* time_of_day_ = nullptr;
    Candidate* specimen_ = nullptr;
    Candidate* electrode_ = nullptr;
    Candidate* marker_ = nullptr;
    std::optional<Unit> time_unit_;
    double interval_s_ = 0;
    ChannelPlan plan_;
};

}  // namespace

Result<ChannelPlan> plan_channels(const Layout& layout, const ReadOptions& options, const std::string& name) {
    return Planner(layout, options, name).plan();
}

}  // namespace ebbtide::recording
