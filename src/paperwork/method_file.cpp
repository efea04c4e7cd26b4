// Test methods. docs/formats/method.md explains every key.

#include <fmt/format.h>

#include <algorithm>
#include <array>

#include "basis/number_text.hpp"
#include "paperwork/document.hpp"
#include "paperwork/heading.hpp"
#include "paperwork/paperwork.hpp"
#include "paperwork/ranges.hpp"
#include "paperwork/sensitivity.hpp"
#include "paperwork/table_reader.hpp"

namespace ebbtide::paperwork {
namespace {

using plan::InitialBasis;

plan::Tolerance tolerance(TableReader table, const Range& nominal) {
    const Range half_width{.least = 0, .most = nominal.most, .unit = nominal.unit, .least_excluded = true};
    return {table.number("nominal", nominal), table.number("plus_minus", half_width)};
}

std::optional<plan::Tolerance> optional_tolerance(TableReader& in, std::string_view key,
                                                  const Range& nominal) {
    auto table = in.optional_table(key);
    if (!table) return {};
    return tolerance(std::move(*table), nominal);
}

plan::Conditioning conditioning(TableReader table) {
    plan::Conditioning out;
    out.relative_humidity_percent = optional_tolerance(table, "relative_humidity_percent", humidity_percent);
    out.temperature_C = optional_tolerance(table, "temperature_C", temperature_C);
    out.at_least_h = table.optional_number("at_least_h", hours);
    out.at_most_h = table.optional_number("at_most_h", hours);
    if (out.at_least_h && out.at_most_h && *out.at_most_h < *out.at_least_h)
        table.problem("at_most_h",
                      fmt::format("'conditioning.at_most_h' is {}, less than at_least_h, {}",
                                  shortest_text(*out.at_most_h), shortest_text(*out.at_least_h)),
                      "");
    return out;
}

plan::Charging charging(TableReader table) {
    plan::Charging out;
    out.voltage_V = tolerance(table.table("voltage_V"), positive_V);
    out.hold_s = table.optional_number("hold_s", positive_s);
    out.minimum_initial_V = table.optional_number("minimum_initial_V", positive_V);
    out.minimum_accepted_fraction =
        table.optional_number("minimum_accepted_fraction", {.most = 1, .least_excluded = true});
    static constexpr std::array<std::pair<std::string_view, std::string_view>, 4> words{
        {{"positive", "positive"}, {"negative", "negative"}, {"both", "both"}, {"either", "either"}}};
    out.polarities = table.choice<std::string_view>("polarities", words).value_or("either");
    return out;
}

/// A key that belongs to one basis is refused with another.
std::optional<double> for_basis(TableReader& table, std::string_view key, const Range& range, bool belongs,
                                bool required, std::string_view bases) {
    if (belongs && required) return table.number(key, range);
    const auto value = table.optional_number(key, range);
    if (!belongs && table.has(key))
        table.problem(key, fmt::format("'{}' has no meaning with this basis", table.full_key(key)),
                      fmt::format("It belongs to {}; take it out", bases));
    return value;
}

void initial_voltage(TableReader table, plan::DecayRules& rules, bool& reference_run) {
    static constexpr std::array<std::pair<std::string_view, InitialBasis>, 4> words{
        {{"hold_mean", InitialBasis::hold_mean},
         {"charging_maximum", InitialBasis::charging_maximum},
         {"nominal", InitialBasis::nominal},
         {"without_specimen", InitialBasis::without_specimen}}};
    const auto basis = table.choice<InitialBasis>("basis", words);
    // Without a basis nothing can be said of the keys that depend on it: each is taken as it comes.
    const bool hold = !basis || basis == InitialBasis::hold_mean;
    const bool maximum = !basis || basis == InitialBasis::charging_maximum;
    const bool stated = !basis || basis == InitialBasis::nominal || basis == InitialBasis::without_specimen;
    const bool required = basis.has_value();
    rules.basis = basis.value_or(InitialBasis::hold_mean);
    rules.basis_window_s = for_basis(table, "window_s", positive_s, hold, false, "hold_mean");
    rules.basis_guard_s =
        for_basis(table, "guard_s", not_negative_s, hold, required, "hold_mean").value_or(0);
    rules.basis_bandwidth_s =
        for_basis(table, "bandwidth_s", positive_s, maximum, required, "charging_maximum");
    reference_run = table.truth_or("reference_run", false);
    const bool without = !basis || basis == InitialBasis::without_specimen;
    if (reference_run && !without)
        table.problem("reference_run", "'initial_voltage.reference_run' has no meaning with this basis",
                      "It belongs to without_specimen; take it out");
    if (reference_run && without && table.has("stated_V"))
        table.problem("stated_V",
                      "'initial_voltage.stated_V' stands beside a reference run, which gives the voltage",
                      "Keep one of the two");
    const bool by_run = reference_run && without;
    rules.stated_initial_V =
        for_basis(table, "stated_V", positive_V, stated, required && !by_run, "nominal and without_specimen");
}

/// A start level lies above every level to which the time is taken, as far as the file alone can tell.
void start_of_clock(TableReader& table, plan::DecayRules& rules) {
    using Clock = plan::DecayRules::Clock;
    static constexpr std::array<std::pair<std::string_view, Clock>, 2> words{
        {{"release", Clock::release}, {"field_step", Clock::field_step}}};
    if (table.has("clock")) rules.clock = table.choice<Clock>("clock", words).value_or(Clock::release);
    if (!table.has("from")) return;
    rules.from = table.level("from");
    if (rules.from->value == 0)
        table.problem("from", "'decay.from' is 0; the time counts from a level above all others",
                      "Give a part of V0 (\"90 %\") or a voltage (\"1000 V\")");
    for (const plan::Level& level : rules.levels)
        if (level.kind == rules.from->kind && level.value >= rules.from->value)
            table.problem("from",
                          fmt::format("'decay.from' is {}, and the level {} does not lie below it",
                                      rules.from->label(), level.label()),
                          "The time counts from the first to the second, on a fall");
}

plan::ZeroFloor zero_floor(TableReader& table) {
    plan::ZeroFloor floor;
    if (!table.has("zero_floor")) return floor;
    const plan::Level level = table.level("zero_floor");
    floor.kind = level.kind == plan::Level::Kind::fraction ? plan::ZeroFloor::Kind::fraction
                                                           : plan::ZeroFloor::Kind::absolute_V;
    floor.value = level.value;
    if (level.value == 0)
        table.problem("zero_floor", "'decay.zero_floor' is zero; it must stand for zero and be above it",
                      "Give a part of V0 (\"1 %\") or a voltage (\"50 V\")");
    return floor;
}

void decay(TableReader table, plan::DecayRules& rules) {
    rules.levels = table.levels("levels");
    rules.zero_floor = zero_floor(table);
    rules.extrapolation_allowed = table.truth_or("extrapolation", false);
    start_of_clock(table, rules);
    for (const plan::Level& level : rules.levels)
        if (level.value == 0 && rules.zero_floor.kind == plan::ZeroFloor::Kind::none)
            table.problem("levels", "'decay.levels' asks for 0 %, which no exponential ever reaches",
                          "Say in 'decay.zero_floor' what stands for zero (\"1 %\" or \"50 V\"), or take the "
                          "level out");
}

std::map<plan::FlagCode, plan::Consequence> consequences(TableReader table) {
    std::vector<std::string> codes;
    for (std::size_t i = 0; i < plan::flag_count; ++i)
        codes.emplace_back(plan::facts(static_cast<plan::FlagCode>(i)).name);
    static constexpr std::array<std::pair<std::string_view, plan::Consequence>, 4> words{
        {{"note", plan::Consequence::note},
         {"warn", plan::Consequence::warn},
         {"fail_specimen", plan::Consequence::fail_specimen},
         {"void_run", plan::Consequence::void_run}}};
    std::map<plan::FlagCode, plan::Consequence> out;
    for (const std::string& name : table.all().keys) {
        if (const auto code = plan::flag_named(name)) {
            if (const auto consequence = table.choice<plan::Consequence>(name, words))
                out[*code] = *consequence;
            continue;
        }
        table.problem(name, fmt::format("there is no flag '{}'", shortened(name)),
                      table.suggestion(name, codes, "docs/flags.md lists them"));
    }
    return out;
}

/// The dotted names of all values under a table: "charging.voltage_V", "charging.voltage_V.nominal", ...
void dotted_names(const Node& table, const std::string& path, std::vector<std::string>& out) {
    for (std::size_t i = 0; i < table.keys.size(); ++i) {
        const std::string name = path + table.keys[i];
        if (name == "sources") continue;
        out.push_back(name);
        if (table.elements[i].kind == Node::Kind::table) dotted_names(table.elements[i], name + '.', out);
    }
}

/// `names` is sorted. charging.hold_s = "..." and "charging.hold_s" = "..." say the same.
void read_sources(TableReader table, const std::string& path, std::span<const std::string> names,
                  std::map<std::string, std::string>& out) {
    const Node& rows = table.all();
    for (std::size_t i = 0; i < rows.keys.size(); ++i) {
        const std::string& key = rows.keys[i];
        const std::string name = path + key;
        if (rows.elements[i].kind == Node::Kind::table) {
            read_sources(table.table(key), name + '.', names, out);
            continue;
        }
        if (!std::ranges::binary_search(names, name))
            table.problem(
                key, fmt::format("'sources' speaks of '{}', which this file does not hold", shortened(name)),
                table.suggestion(name, names, ""));
        out[name] = table.text(key);
    }
}

plan::Method method(TableReader& top, const Node& document) {
    plan::Method out;
    read_heading(top, out);
    if (auto table = top.optional_table("conditioning")) out.conditioning = conditioning(std::move(*table));
    out.charging = charging(top.table("charging"));
    initial_voltage(top.table("initial_voltage"), out.decay, out.reference_run);
    if (auto table = top.optional_table("sensitivity")) out.sensitivity = read_sensitivity(std::move(*table));
    if (auto table = top.optional_table("limits")) {
        out.decay.residual_limit_V = table->optional_number("residual_V", positive_V);
        out.decay.zero_limit_V = table->optional_number("zero_V", positive_V);
    }
    decay(top.table("decay"), out.decay);
    {
        TableReader runs = top.table("runs");
        out.replicates = runs.whole("replicates", 1, 1000);
        out.specimens = runs.whole_or("specimens", 1, 1000, 1);
        out.faces = runs.texts_or_none("faces");
        out.directions = runs.texts_or_none("directions");
    }
    if (auto table = top.optional_table("consequences")) out.consequences = consequences(std::move(*table));
    if (auto table = top.optional_table("sources")) {
        std::vector<std::string> names;
        dotted_names(document, "", names);
        std::ranges::sort(names);
        read_sources(std::move(*table), "", names, out.value_sources);
    }
    return out;
}

}  // namespace

Result<plan::Method> parse_method(std::string_view toml, const std::string& name) {
    return read_document<plan::Method>(toml, name, "method", method);
}

}  // namespace ebbtide::paperwork
