#include "work/predict.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <utility>

#include "basis/number_text.hpp"

namespace ebbtide::work {
namespace {

constexpr double least_ohm = 1, most_ohm = 1e20;
constexpr int steps_a_decade = 3;  // of a sweep over resistivities
constexpr int steps_of_length = 12;

Error bad(std::string what, std::string where, std::string remedy) {
    return {Fault::bad_input, std::move(what), std::move(where), std::move(remedy)};
}

std::optional<Error> problem_of(const PredictRequest& request) {
    const bool over_resistivity = request.sweep && request.sweep->what == Swept::resistivity;
    if (request.levels.empty()) return bad("no level is asked", "--level", "Ask for one: 10%");
    for (const plan::Level& level : request.levels)
        if (level.kind != plan::Level::Kind::fraction || !(level.value > 0 && level.value < 1))
            return bad(fmt::format("'{}' is no share of the initial voltage", level.text), "--level",
                       "A sheet that nobody has charged yet has no volts: say 10% or 1/e");
    if (request.resistivity_ohm_sq && request.decay_s)
        return bad("a resistivity and a decay time are both given", "predict",
                   "Give one: the other is the answer");
    if (!request.resistivity_ohm_sq && !request.decay_s && !over_resistivity)
        return bad("neither a resistivity nor a decay time is given", "predict",
                   "Say --surface-resistivity 1e11, --decay-time 0.5, or --sweep 1e9:1e13");
    if (over_resistivity && (request.resistivity_ohm_sq || request.decay_s))
        return bad("a sweep over resistivities is asked for, and one of them is given", "--sweep",
                   "Leave one of the two away");
    if (request.resistivity_ohm_sq &&
        !(*request.resistivity_ohm_sq >= least_ohm && *request.resistivity_ohm_sq <= most_ohm))
        return bad(
            fmt::format("a surface resistivity lies in 1 to 1e20 ohm; got {}", *request.resistivity_ohm_sq),
            "--surface-resistivity", "It counts in ohm, such as 1e11");
    if (!(request.contact_ohm_m >= 0 && request.contact_ohm_m <= 1e18))
        return bad(fmt::format("a contact resistance lies in 0 to 1e18 ohm m; got {}", request.contact_ohm_m),
                   "--contact", "It counts in ohm times metres of the clamps' width");
    for (const auto& [time_s, where] :
         {std::pair{request.decay_s, "--decay-time"}, std::pair{request.meets_s, "--meets"}})
        if (time_s && !(*time_s >= 1e-9 && *time_s <= 1e9))
            return bad(fmt::format("a decay time lies in 1e-9 to 1e9 s; got {}", *time_s), where,
                       "It counts in seconds, such as 0.5");
    return {};
}

/// A sheet and its other operator behind contacts that stay what they are, whatever its resistivity.
class TimesOfSheet {
  public:
    TimesOfSheet(const BenchSheet& sheet, const PredictRequest& request)
        : sheet_(sheet), levels_(request.levels), contact_ohm_m_(request.contact_ohm_m) {}

    [[nodiscard]] Result<Predicted> of(double resistivity_ohm_sq) const {
        const double T = resistivity_ohm_sq * sheet_.time_per_ohm_s();
        const auto modes = modes_of(sheet_.sheet, resistivity_ohm_sq);
        if (!modes) return contacts_apart(resistivity_ohm_sq);
        std::optional<sheet::RelativeModes> other;
        if (sheet_.other) other = modes_of(*sheet_.other, resistivity_ohm_sq);
        Predicted out;
        out.at = out.resistivity_ohm_sq = resistivity_ohm_sq;
        out.time_constant_s = T / modes->rate.front();
        out.capacitance_F_m2 = sheet_.capacitance_F_m2;
        out.induced_fraction = modes->induced_fraction;
        for (const plan::Level& level : levels_) {
            PredictedLevel one{level,
                               T * modes->time_to(level.value),
                               T * modes->time_to(level.value * (1 - modes->induced_fraction)),
                               {}};
            if (other) one.other_decay_s = T * other->time_to(level.value);
            out.levels.push_back(std::move(one));
        }
        return out;
    }
    /// Whose decay time to the first level this is; nothing where the clamps' part alone gets there, or the
    /// contacts alone take longer.
    [[nodiscard]] std::optional<double> resistivity_of(double decay_s, const sheet::TimedSheet& sheet) const {
        const double level = levels_.front().value, per_ohm_s = sheet_.time_per_ohm_s();
        const double relative = sheet.modes().time_to(level);
        if (!(relative > 0)) return std::nullopt;
        const double alone = decay_s / (relative * per_ohm_s);
        if (contact_ohm_m_ == 0) return alone;
        const auto later_s = [&](double ohm) -> double {
            const auto modes = modes_of(sheet, ohm);
            return modes ? ohm * per_ohm_s * modes->time_to(level) - decay_s : HUGE_VAL;
        };
        // The time rises with the resistivity and is nearly straight in it: secants between what is too
        // little and what perfect contacts would allow (Illinois: an end that stays counts half).
        double low = std::max(least_ohm, contact_ohm_m_ / (apart * sheet.gap_m())), high = alone;
        double at_low = later_s(low), at_high = later_s(high), found = high;
        if (!(low < high) || at_low > 0) return std::nullopt;
        int last = 0;
        for (int i = 0; i < 100 && high - low > 1e-13 * high; ++i) {
            found = high - at_high * (high - low) / (at_high - at_low);
            const double here = later_s(found);
            if (std::abs(here) <= 1e-13 * decay_s) break;
            if (here > 0) {
                high = found;
                at_high = here;
                if (last > 0) at_low /= 2;
                last = 1;
            } else {
                low = found;
                at_low = here;
                if (last < 0) at_high /= 2;
                last = -1;
            }
        }
        return found;
    }

  private:
    /// Contacts so many times the sheet's own resistance are all there is, to a part in as many: lower
    /// resistivities change nothing.
    static constexpr double apart = 1e4;

    [[nodiscard]] std::optional<sheet::RelativeModes> modes_of(const sheet::TimedSheet& sheet,
                                                               double resistivity_ohm_sq) const {
        const double ratio = contact_ohm_m_ / (resistivity_ohm_sq * sheet.gap_m());
        // Contacts so good add less than their share to a time.
        if (ratio < 1e-9) return sheet.modes();
        return sheet.modes_with_contact(ratio);
    }
    [[nodiscard]] Error contacts_apart(double resistivity_ohm_sq) const {
        return bad(fmt::format("contacts of {} ohm m stand before a sheet of {} ohm: it has no modes to tell",
                               contact_ohm_m_, resistivity_ohm_sq),
                   "--contact", "It counts in ohm times metres of the clamps' width");
    }

    const BenchSheet& sheet_;
    const std::vector<plan::Level>& levels_;
    double contact_ohm_m_;
};

Error needs_capacitance(const plan::Bench& bench) {
    return bad("the sheet's capacitance is not known: its resistivity alone tells no time",
               fmt::format("bench {} [fixture]", bench.id),
               "State sensor_distance_mm and enclosure_behind_mm, calibrate the fixture (calibrate-fixture), "
               "or give "
               "--backing-capacitance");
}

std::vector<double> places_in(const Sweep& sweep) {
    std::vector<double> out;
    const bool decades = sweep.what == Swept::resistivity;
    const int steps =
        decades
            ? std::clamp(static_cast<int>(std::lround(steps_a_decade * std::log10(sweep.to / sweep.from))), 1,
                         60)
            : steps_of_length;
    for (int i = 0; i <= steps; ++i) {
        const double share = static_cast<double>(i) / steps;
        out.push_back(decades ? sweep.from * std::pow(sweep.to / sweep.from, share)
                              : sweep.from + share * (sweep.to - sweep.from));
    }
    out.back() = sweep.to;
    return out;
}

plan::Bench with_length(plan::Bench bench, Swept what, double length_mm) {
    if (what == Swept::gap) bench.fixture.clamp_gap_mm = length_mm;
    if (what == Swept::sensor_distance) bench.fixture.sensor_distance_mm = length_mm;
    if (what == Swept::enclosure) bench.fixture.enclosure_behind_mm = length_mm;
    bench.fixture_calibrations.clear();
    return bench;
}

void hold_against(Predicted& one, const std::optional<double>& limit_s) {
    if (limit_s) one.meets = one.levels.front().decay_s <= *limit_s;
}

}  // namespace

std::string_view name_of(Swept one) {
    switch (one) {
        case Swept::resistivity:
            return "resistivity";
        case Swept::gap:
            return "gap";
        case Swept::sensor_distance:
            return "sensor";
        case Swept::enclosure:
            return "enclosure";
    }
    return "";
}

std::string_view unit_of(Swept one) {
    return one == Swept::resistivity ? "ohm" : "mm";
}

Result<Sweep> parse_sweep(const std::string& text) {
    Sweep out;
    std::string range = text;
    if (const std::size_t equals = text.find('='); equals != std::string::npos) {
        const std::string name = text.substr(0, equals);
        range = text.substr(equals + 1);
        bool known = false;
        for (const Swept one : {Swept::resistivity, Swept::gap, Swept::sensor_distance, Swept::enclosure})
            if (name_of(one) == name) {
                out.what = one;
                known = true;
            }
        if (!known)
            return bad(fmt::format("nothing that can be swept is called '{}'", name), "--sweep",
                       "There are: resistivity (ohm), gap, sensor, enclosure (millimetres)");
    }
    const std::size_t colon = range.find(':');
    const double from = parse_number(range.substr(0, colon)).value_or(-1);
    double to = -1;
    if (colon != std::string::npos) to = parse_number(range.substr(colon + 1)).value_or(-1);
    const double least = out.what == Swept::resistivity ? least_ohm : 1e-3;
    const double most = out.what == Swept::resistivity ? most_ohm : 1e4;
    if (!(from >= least && from < to && to <= most))
        return bad(fmt::format("'{}' is no range to sweep", text), "--sweep",
                   "Say from:to, the lower first, such as 1e9:1e13 (ohm) or gap=50:100 (millimetres)");
    out.from = from;
    out.to = to;
    return out;
}

Result<Prediction> predict(const PredictRequest& request) {
    if (auto problem = problem_of(request)) return *std::move(problem);
    const auto sheet = sheet_of(request.bench, request.question);
    if (!sheet) return sheet.error();
    if (sheet->source == CapacitanceSource::unknown) return needs_capacitance(request.bench);
    const TimesOfSheet times(*sheet, request);
    Prediction out;
    out.used = sheet->used;
    out.source = sheet->source;
    out.u_capacitance = sheet->u_capacitance;
    out.caution = sheet->caution;
    const auto at_once_or_never = [&](const sheet::TimedSheet& of) {
        const double induced = of.modes().induced_fraction;
        if (request.levels.front().value < 1 - induced)
            return bad("the contacts alone take longer than that, whatever the sheet's resistivity",
                       "--contact", "Ask for a longer time, or better contacts");
        return bad(
            fmt::format("what the clamps induce is {} of the hold's reading: without it less than {} is "
                        "left at once, whatever the resistivity",
                        fixed_text(induced, 3), request.levels.front().label()),
            "--level", "Ask for a lower level");
    };
    double resistivity = request.resistivity_ohm_sq.value_or(0);
    if (request.decay_s) {
        const auto needed = times.resistivity_of(*request.decay_s, sheet->sheet);
        if (!needed) return at_once_or_never(sheet->sheet);
        resistivity = *needed;
        if (sheet->other)
            out.other_resistivity_ohm_sq = times.resistivity_of(*request.decay_s, *sheet->other);
    }
    if (resistivity > 0) {
        auto asked = times.of(resistivity);
        if (!asked) return asked.error();
        out.asked = *std::move(asked);
        hold_against(*out.asked, request.meets_s);
    }
    if (!request.sweep) return out;
    out.what = request.sweep->what;
    for (const double place : places_in(*request.sweep)) {
        Predicted one;
        if (*out.what == Swept::resistivity) {
            auto there = times.of(place);
            if (!there) return there.error();
            one = *std::move(there);
        } else {
            const auto moved = sheet_of(with_length(request.bench, *out.what, place), request.question);
            if (!moved) return moved.error();
            if (moved->source == CapacitanceSource::unknown) return needs_capacitance(request.bench);
            auto there = TimesOfSheet(*moved, request).of(resistivity);
            if (!there) return there.error();
            one = *std::move(there);
            one.at = place;
            out.source = moved->source;
        }
        hold_against(one, request.meets_s);
        out.swept.push_back(std::move(one));
    }
    if (*out.what == Swept::resistivity && request.meets_s) {
        out.highest_that_meets_ohm_sq = times.resistivity_of(*request.meets_s, sheet->sheet);
        if (!out.highest_that_meets_ohm_sq) return at_once_or_never(sheet->sheet);
    }
    return out;
}

}  // namespace ebbtide::work
