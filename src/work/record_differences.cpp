#include "work/record_differences.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <map>
#include <numbers>
#include <optional>

#include "basis/number_text.hpp"
#include "plan/level.hpp"
#include "work/verify.hpp"

namespace ebbtide::work {
namespace {

using nlohmann::json;

using Differences = std::vector<Difference>;

std::string text_of(const json& value) {
    return value.is_string() ? value.get<std::string>()
                             : value.dump(-1, ' ', false, json::error_handler_t::replace);
}

std::string text_in(const json& object, const char* key) {
    return object.is_object() && object.contains(key) ? text_of(object[key]) : std::string();
}

/// The objects of a list: a record that was changed may hold anything anywhere.
json list_at(const json& object, const char* key) {
    json list = json::array();
    if (object.is_object() && object.contains(key) && object[key].is_array())
        for (const json& entry : object[key])
            if (entry.is_object()) list.push_back(entry);
    return list;
}

/// Both numbers with as many digits as it takes to tell them apart, three at least.
std::string was_and_is(double was, double is, std::string_view unit) {
    int digits = 3;
    while (digits < 17 && significant_text(was, digits) == significant_text(is, digits)) ++digits;
    return fmt::format("was {} {}, is {} {}", significant_text(was, digits), unit,
                       significant_text(is, digits), unit);
}

bool same(const json& was, const json& is) {
    std::size_t compared = 0;
    return differences_of(was, is, compared).empty();
}

/// Entries of two lists that belong together, by a name; a name that comes twice is told apart by its turn.
struct Pair {
    std::string name;
    std::optional<json> was, is;
};
std::vector<Pair> paired(const json& was, const json& is, const char* key) {
    std::vector<Pair> pairs;
    const auto lay = [&](const json& list, std::optional<json> Pair::*side) {
        std::map<std::string, int> seen;
        for (const json& entry : list) {
            std::string name = text_in(entry, key);
            if (const int turn = ++seen[name]; turn > 1) name += fmt::format(" (repeat {})", turn - 1);
            auto found = std::ranges::find(pairs, name, &Pair::name);
            if (found == pairs.end()) found = pairs.insert(pairs.end(), Pair{name, {}, {}});
            (*found).*side = entry;
        }
    };
    lay(was, &Pair::was);
    lay(is, &Pair::is);
    return pairs;
}

void compare_findings(const std::string& id, const json& was, const json& is, Differences& outcomes,
                      Differences& values) {
    for (const Pair& pair : paired(list_at(was, "findings"), list_at(is, "findings"), "group")) {
        const std::string subject = fmt::format("{}, {}", id, pair.name);
        const std::vector<std::string> words{id, pair.name, pair.name.substr(0, pair.name.find(' ')),
                                             "requirements", "conformity"};
        if (!pair.was || !pair.is) {
            outcomes.push_back(
                {fmt::format("{}: {}", subject, pair.is ? "was not judged before" : "is no longer judged"),
                 subject, words});
            continue;
        }
        const std::string then = text_in(*pair.was, "outcome"), now = text_in(*pair.is, "outcome");
        const json value_then = pair.was->value("value_s", json()),
                   value_now = pair.is->value("value_s", json());
        const bool numbers = value_then.is_number() && value_now.is_number();
        if (then != now)
            outcomes.push_back(
                {fmt::format(
                     "{}: was {}, is {}{}", subject, then, now,
                     numbers ? fmt::format(" ({})", was_and_is(value_then, value_now, "s")) : std::string()),
                 subject, words});
        // What is asked of each run is told with the run.
        else if (text_in(is, "statistic") == "mean" && !same(value_then, value_now) && numbers)
            values.push_back(
                {fmt::format("{}: {}", subject, was_and_is(value_then, value_now, "s")), subject, words});
    }
}

plan::Level level_of(const json& figure) {
    plan::Level level;
    level.kind = text_in(figure, "level_kind") == "absolute_V" ? plan::Level::Kind::absolute_V
                                                               : plan::Level::Kind::fraction;
    level.value = figure.value("level", 0.0);
    level.text = level.value == 1 / std::numbers::e ? "1/e" : "";
    return level;
}

std::string words_of(std::string name) {
    std::ranges::replace(name, '_', ' ');
    return name;
}

/// Stands in for a slash of a name while names are joined by slashes.
constexpr char kept_slash = '\x1f';

/// A key of the record as people read it: "lag_s" is "lag (s)".
std::string key_in_words(std::string key) {
    std::ranges::replace(key, kept_slash, '/');
    for (const auto& [ending, unit] :
         {std::pair{"_s", "s"}, std::pair{"_V", "V"}, std::pair{"_mm", "mm"}, std::pair{"_C", "°C"},
          std::pair{"_h", "h"}, std::pair{"_percent", "%"}})
        if (key.ends_with(ending))
            return fmt::format("{} ({})", words_of(key.substr(0, key.rfind('_'))), unit);
    return words_of(std::move(key));
}

/// What follows the place in a line of differences_of, with words for what is absent.
std::string tail_in_words(std::string tail) {
    for (const char* nothing : {"\"\"", "null"})
        for (const auto& [before, after] : {std::pair{"was ", ","}, std::pair{"is ", ""}}) {
            const std::string wanted = fmt::format("{}{}{}", before, nothing, after);
            const std::size_t at = tail.find(wanted);
            if (at != std::string::npos && (*after != '\0' || at + wanted.size() == tail.size()))
                tail.replace(at, wanted.size(), fmt::format("{}not stated{}", before, after));
        }
    return tail;
}

/// Levels of one run: decay times, statuses, and uncertainties where the times agree.
void compare_levels(const std::string& run, const json& was, const json& is,
                    const std::vector<std::string>& words, Differences& differences) {
    for (const json& now : list_at(is, "levels")) {
        const json before = list_at(was, "levels");
        const auto then = std::ranges::find_if(before, [&](const json& one) {
            return one.value("level", json()) == now.value("level", json()) &&
                   one.value("level_kind", json()) == now.value("level_kind", json());
        });
        if (then == before.end()) continue;  // taken anew, for a requirement that is told by itself
        const std::string place = fmt::format("{}, t({})", run, level_of(now).label());
        const json t_then = then->value("decay_s", json()), t_now = now.value("decay_s", json());
        const json u_then = then->value("u_decay_s", json()), u_now = now.value("u_decay_s", json());
        if (text_in(*then, "status") != text_in(now, "status"))
            differences.push_back({fmt::format("{}: was {}, is {}", place, words_of(text_in(*then, "status")),
                                               words_of(text_in(now, "status"))),
                                   run, words});
        else if (t_then.is_number() && t_now.is_number() && !same(t_then, t_now))
            differences.push_back({fmt::format("{}: {}", place, was_and_is(t_then, t_now, "s")), run, words});
        else if (u_then.is_number() && u_now.is_number() && !same(u_then, u_now))
            differences.push_back(
                {fmt::format("{}: its uncertainty {}", place, was_and_is(u_then, u_now, "s")), run, words});
    }
}

void compare_runs(const json& was, const json& is, Differences& standing, Differences& figures) {
    for (const Pair& pair : paired(list_at(was, "runs"), list_at(is, "runs"), "label")) {
        const std::vector<std::string> words{pair.name, text_in(pair.is ? *pair.is : *pair.was, "specimen"),
                                             "decay times", "figures", "all runs"};
        if (!pair.was || !pair.is) {
            standing.push_back({fmt::format("{}: {}", pair.name,
                                            pair.is ? "the run was not in the report before"
                                                    : "the run is no longer in the report"),
                                pair.name, words});
            continue;
        }
        if (text_in(*pair.was, "counts") != text_in(*pair.is, "counts"))
            standing.push_back(
                {fmt::format("{}: {}", pair.name,
                             pair.is->value("counts", json()) == true ? "did not count, counts now"
                                                                      : "counted, does not count now"),
                 pair.name, words});
        const json then = pair.was->value("figures", json()), now = pair.is->value("figures", json());
        const std::size_t before = figures.size();
        compare_levels(pair.name, then, now, words, figures);
        const json v_then = then.is_object() ? then.value("initial_voltage_V", json()) : json();
        const json v_now = now.is_object() ? now.value("initial_voltage_V", json()) : json();
        if (figures.size() == before && v_then.is_number() && v_now.is_number() && !same(v_then, v_now))
            figures.push_back(
                {fmt::format("{}, V0: {}", pair.name, was_and_is(v_then, v_now, "V")), pair.name, words});
        std::vector<std::string> codes_then, codes_now;
        for (const json& flag : list_at(*pair.was, "flags")) codes_then.push_back(text_in(flag, "code"));
        for (const json& flag : list_at(*pair.is, "flags")) codes_now.push_back(text_in(flag, "code"));
        for (const std::string& code : codes_now)
            if (std::ranges::find(codes_then, code) == codes_then.end())
                standing.push_back(
                    {fmt::format("{}: has the flag “{}” now", pair.name, words_of(code)), pair.name, words});
        for (const std::string& code : codes_then)
            if (std::ranges::find(codes_now, code) == codes_now.end())
                standing.push_back({fmt::format("{}: no longer has the flag “{}”", pair.name, words_of(code)),
                                    pair.name, words});
    }
}

/// Lists as tables keyed by what their entries are called, so that one entry more does not shift the rest.
json keyed(const json& document) {
    if (document.is_object()) {
        json out = json::object();
        for (const auto& [key, value] : document.items()) out[key] = keyed(value);
        return out;
    }
    if (!document.is_array()) return document;
    json out = json::object();
    std::size_t number = 0;
    for (const json& entry : document) {
        ++number;
        std::string name = std::to_string(number);
        for (const char* key : {"id", "file", "equipment", "label"})
            if (entry.is_object() && entry.contains(key)) {
                name = text_in(entry, key);
                break;
            }
        if (entry.is_object() && entry.contains("specimen") && entry.contains("replicate"))
            name = fmt::format("{} {} {} {} {}", text_in(entry, "specimen"), text_in(entry, "face"),
                               text_in(entry, "conditions"), text_in(entry, "polarity"),
                               text_in(entry, "replicate"));
        std::ranges::replace(name, '/', kept_slash);
        while (out.contains(name)) name += " (repeat)";
        out[name] = keyed(entry);
    }
    return out;
}

/// "/customer/name: was "A", is "B"" as "customer, name: was "A", is "B"".
void compare_particulars(const std::string& kind, json was, json is, Differences& differences) {
    if (kind == "order")
        for (json* side : {&was, &is})
            // These must differ: the amendment itself says so.
            if (side->is_object())
                for (const char* key : {"revision", "issued", "amendment"}) side->erase(key);
    std::size_t compared = 0;
    for (const std::string& line : differences_of(keyed(was), keyed(is), compared)) {
        std::size_t end = std::string::npos;
        for (const char* tail : {": was ", ": no longer there"}) end = std::min(end, line.find(tail));
        std::string place;
        std::vector<std::string> words;
        if (kind != "order") words.push_back(kind);
        for (std::size_t from = 1; from < end;) {
            const std::size_t slash = std::min(line.find('/', from), end);
            const std::string part = key_in_words(line.substr(from, slash - from));
            place += (place.empty() ? "" : ", ") + part;
            words.push_back(part);
            from = slash + 1;
        }
        if (kind != "order") place = kind + (place.empty() ? "" : ", ") + place;
        differences.push_back(
            {place + (end == std::string::npos ? std::string() : tail_in_words(line.substr(end))), place,
             words});
    }
}

void compare_recordings(const json& was, const json& is, Differences& differences) {
    for (const Pair& pair : paired(list_at(was, "recordings"), list_at(is, "recordings"), "file")) {
        const char* what = !pair.was  ? "the recording was not in the report before"
                           : !pair.is ? "the recording is no longer in the report"
                           : text_in(*pair.was, "sha256") != text_in(*pair.is, "sha256")
                               ? "the recording holds other bytes than before"
                               : nullptr;
        if (what)
            differences.push_back({fmt::format("{}: {}", pair.name, what),
                                   pair.name,
                                   {pair.name, pair.name.substr(pair.name.find('/') + 1), "recordings"}});
    }
}

}  // namespace

std::vector<KindOfDifference> record_differences(const json& was, const json& is) {
    const json then = was.value("judgement", json()), now = is.value("judgement", json());
    Differences statement, requirements, results, means, runs, figures, particulars, documents, recordings,
        program;
    if (text_in(then, "statement") != text_in(now, "statement"))
        statement.push_back({fmt::format("The statement of conformity was “{}”, is “{}”",
                                         text_in(then, "statement"), text_in(now, "statement")),
                             "the statement of conformity",
                             {"statement", "conformity"}});
    for (const Pair& pair : paired(list_at(then, "requirements"), list_at(now, "requirements"), "id")) {
        const std::vector<std::string> words{pair.name, "requirements", "conformity", "specification"};
        const json a = pair.was.value_or(json()), b = pair.is.value_or(json());
        if (text_in(a, "outcome") != text_in(b, "outcome"))
            requirements.push_back(
                {fmt::format("{}: was {}, is {}", pair.name, pair.was ? text_in(a, "outcome") : "not asked",
                             pair.is ? text_in(b, "outcome") : "not asked"),
                 pair.name, words});
        if (pair.was && pair.is) compare_findings(pair.name, a, b, results, means);
    }
    compare_runs(then, now, runs, figures);
    compare_particulars("order", was.value("order", json()), is.value("order", json()), particulars);
    for (const char* document : {"method", "specification", "bench"})
        compare_particulars(document, was.value(document, json()), is.value(document, json()), documents);
    compare_recordings(was, is, recordings);
    if (text_in(was, "engine_version") != text_in(is, "engine_version"))
        program.push_back({fmt::format("The figures were made by ebbtide {}, now by ebbtide {}",
                                       text_in(was, "engine_version"), text_in(is, "engine_version")),
                           "the version of the program",
                           {"version", "program", "ebbtide"}});
    return {{"statements", std::move(statement), false},
            {"requirements", std::move(requirements), false},
            {"results", std::move(results), false},
            {"means", std::move(means), true},
            {"runs", std::move(runs), false},
            {"figures of runs", std::move(figures), true},
            {"particulars", std::move(particulars), false},
            {"values of documents", std::move(documents), false},
            {"recordings", std::move(recordings), false},
            {"versions", std::move(program), false}};
}

}  // namespace ebbtide::work
