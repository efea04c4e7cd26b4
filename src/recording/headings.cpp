#include "recording/headings.hpp"

#include <algorithm>
#include <array>
#include <span>
#include <vector>

#include "recording/cells.hpp"

namespace ebbtide::recording {

namespace {

using Words = std::span<const std::string_view>;

struct UnitWord {
    std::string_view text;
    Dimension dimension;
    double factor;
};

// Symbols: exact spelling first, since mV and MV differ by 1e9.
constexpr std::array symbols = {
    UnitWord{"s", Dimension::time, 1},
    UnitWord{"S", Dimension::time, 1},
    UnitWord{"ms", Dimension::time, 1e-3},
    UnitWord{"MS", Dimension::time, 1e-3},
    UnitWord{"us", Dimension::time, 1e-6},
    UnitWord{"US", Dimension::time, 1e-6},
    UnitWord{"ns", Dimension::time, 1e-9},
    UnitWord{"NS", Dimension::time, 1e-9},
    UnitWord{"ps", Dimension::time, 1e-12},
    UnitWord{"min", Dimension::time, 60},
    UnitWord{"h", Dimension::time, 3600},
    UnitWord{"V", Dimension::voltage, 1},
    UnitWord{"v", Dimension::voltage, 1},
    UnitWord{"mV", Dimension::voltage, 1e-3},
    UnitWord{"mv", Dimension::voltage, 1e-3},
    UnitWord{"uV", Dimension::voltage, 1e-6},
    UnitWord{"nV", Dimension::voltage, 1e-9},
    UnitWord{"kV", Dimension::voltage, 1e3},
    UnitWord{"KV", Dimension::voltage, 1e3},
    UnitWord{"kv", Dimension::voltage, 1e3},
    UnitWord{"MV", Dimension::voltage, 1e6},
    UnitWord{"VDC", Dimension::voltage, 1},
    UnitWord{"V DC", Dimension::voltage, 1},
    UnitWord{"A", Dimension::current, 1},
    UnitWord{"mA", Dimension::current, 1e-3},
    UnitWord{"uA", Dimension::current, 1e-6},
    UnitWord{"nA", Dimension::current, 1e-9},
    UnitWord{"pA", Dimension::current, 1e-12},
    UnitWord{"C", Dimension::temperature, 1},
    UnitWord{"\xC2\xB0"
             "C",
             Dimension::temperature, 1},
    UnitWord{"\xC2\xBA"
             "C",
             Dimension::temperature, 1},
    UnitWord{"%RH", Dimension::humidity, 1},
    UnitWord{"% RH", Dimension::humidity, 1},
    UnitWord{"RH%", Dimension::humidity, 1},
    UnitWord{"%rh", Dimension::humidity, 1},
    UnitWord{"%rF", Dimension::humidity, 1},
    UnitWord{"% rF", Dimension::humidity, 1},
    UnitWord{"%r.F.", Dimension::humidity, 1},
    UnitWord{"%", Dimension::humidity, 1},
};
// Words: any case.
constexpr std::array unit_words = {
    UnitWord{"sec", Dimension::time, 1},
    UnitWord{"secs", Dimension::time, 1},
    UnitWord{"second", Dimension::time, 1},
    UnitWord{"seconds", Dimension::time, 1},
    UnitWord{"sekunde", Dimension::time, 1},
    UnitWord{"sekunden", Dimension::time, 1},
    UnitWord{"sek", Dimension::time, 1},
    UnitWord{"msec", Dimension::time, 1e-3},
    UnitWord{"millis", Dimension::time, 1e-3},
    UnitWord{"millis()", Dimension::time, 1e-3},
    UnitWord{"millisecond", Dimension::time, 1e-3},
    UnitWord{"milliseconds", Dimension::time, 1e-3},
    UnitWord{"usec", Dimension::time, 1e-6},
    UnitWord{"micros", Dimension::time, 1e-6},
    UnitWord{"micros()", Dimension::time, 1e-6},
    UnitWord{"microsecond", Dimension::time, 1e-6},
    UnitWord{"microseconds", Dimension::time, 1e-6},
    UnitWord{"nanosecond", Dimension::time, 1e-9},
    UnitWord{"nanoseconds", Dimension::time, 1e-9},
    UnitWord{"minute", Dimension::time, 60},
    UnitWord{"minutes", Dimension::time, 60},
    UnitWord{"minuten", Dimension::time, 60},
    UnitWord{"hr", Dimension::time, 3600},
    UnitWord{"hour", Dimension::time, 3600},
    UnitWord{"hours", Dimension::time, 3600},
    UnitWord{"volt", Dimension::voltage, 1},
    UnitWord{"volts", Dimension::voltage, 1},
    UnitWord{"millivolt", Dimension::voltage, 1e-3},
    UnitWord{"millivolts", Dimension::voltage, 1e-3},
    UnitWord{"microvolt", Dimension::voltage, 1e-6},
    UnitWord{"microvolts", Dimension::voltage, 1e-6},
    UnitWord{"kilovolt", Dimension::voltage, 1e3},
    UnitWord{"kilovolts", Dimension::voltage, 1e3},
    UnitWord{"ampere", Dimension::current, 1},
    UnitWord{"amperes", Dimension::current, 1},
    UnitWord{"amps", Dimension::current, 1},
    UnitWord{"amp", Dimension::current, 1},
    UnitWord{"degc", Dimension::temperature, 1},
    UnitWord{"deg c", Dimension::temperature, 1},
    UnitWord{"celsius", Dimension::temperature, 1},
    UnitWord{"code", Dimension::codes, 1},
    UnitWord{"codes", Dimension::codes, 1},
    UnitWord{"count", Dimension::codes, 1},
    UnitWord{"counts", Dimension::codes, 1},
    UnitWord{"lsb", Dimension::codes, 1},
    UnitWord{"digits", Dimension::codes, 1},
};

constexpr std::array<std::string_view, 20> time_words = {
    "time", "t",       "zeit",  "temps", "tiempo",    "tempo",    "tid", "aika",   "czas",   "uhrzeit",
    "date", "elapsed", "datum", "clock", "timestamp", "datetime", "cas", "millis", "micros", "fecha"};
constexpr std::array<std::string_view, 21> index_words = {
    "n",      "no",       "nr",  "num", "number", "index", "idx",    "i",       "sample", "samples",  "point",
    "points", "sequence", "seq", "row", "zeile",  "line",  "record", "reading", "scan",   "messpunkt"};
constexpr std::array<std::string_view, 14> voltage_words = {
    "voltage", "volt", "volts",     "spannung", "tension", "voltaje", "u",
    "v",       "vin",  "potential", "ch",       "channel", "kanal",   "ampl"};
constexpr std::array<std::string_view, 9> specimen_words = {"specimen",
                                                            "sample",
                                                            "probe",
                                                            "sensor",
                                                            "field",
                                                            "surface",
                                                            "pr\xC3\xBC"
                                                            "fling",
                                                            "muster",
                                                            "sheet"};
constexpr std::array<std::string_view, 8> electrode_words = {
    "electrode", "clamp", "source", "hv", "supply", "elektrode", "clamps", "electrodes"};
constexpr std::array<std::string_view, 8> marker_words = {"marker", "trigger", "trig",   "release",
                                                          "gate",   "relay",   "relais", "sync"};
constexpr std::array<std::string_view, 6> humidity_words = {"rh",  "humidity", "feuchte",
                                                            "hum", "rf",       "luftfeuchte"};
constexpr std::array<std::string_view, 5> temperature_words = {"temp", "temperature", "temperatur",
                                                               "temperature", "celsius"};
constexpr std::array<std::string_view, 10> code_words = {"raw",    "adc", "code", "codes", "count",
                                                         "counts", "lsb", "dac",  "ticks", "bits"};
constexpr std::array<std::string_view, 25> other_words = {
    "current", "strom", "courant", "power", "resistance", "pressure", "energy",  "frequency", "battery",
    "phase",   "state", "status",  "mode",  "step",       "cycle",    "run",     "segment",   "block",
    "flag",    "id",    "charge",  "force", "light",      "error",    "distance"};

// Words of a name in lower case, digits at their ends left out: "SpecimenVoltage", "U_B1" -> u, b.
std::vector<std::string> words_of(std::string_view name) {
    std::vector<std::string> words;
    std::string word;
    const auto finish = [&] {
        while (!word.empty() && word.back() >= '0' && word.back() <= '9') word.pop_back();
        if (!word.empty()) words.push_back(lowered(word));
        word.clear();
    };
    const auto is_upper = [](char c) { return c >= 'A' && c <= 'Z'; };
    const auto is_lower = [](char c) { return c >= 'a' && c <= 'z'; };
    for (std::size_t i = 0; i < name.size(); ++i) {
        const char c = name[i];
        const bool letter = is_upper(c) || is_lower(c) || (c >= '0' && c <= '9') || (c & 0x80) != 0;
        if (!letter || (i > 0 && is_upper(c) && is_lower(name[i - 1]))) finish();
        if (letter) word += c;
    }
    finish();
    return words;
}

bool names(const std::vector<std::string>& words, Words known) {
    return std::ranges::any_of(words, [known](const std::string& word) {
        return std::ranges::any_of(known, [&word](std::string_view k) {
            return word == k || (k.size() >= 6 && word.find(k) != std::string::npos);
        });
    });
}

std::string without_brackets(std::string_view text) {
    text = trimmed(text);
    if (text.size() >= 2) {
        const char a = text.front(), b = text.back();
        if ((a == '(' && b == ')') || (a == '[' && b == ']') || (a == '{' && b == '}') ||
            (a == '<' && b == '>'))
            text = trimmed(text.substr(1, text.size() - 2));
    }
    // Both code points of the micro sign are written u.
    std::string out;
    for (std::size_t i = 0; i < text.size(); ++i) {
        if (text.substr(i).starts_with("\xC2\xB5") || text.substr(i).starts_with("\xCE\xBC")) {
            out += 'u';
            ++i;
        } else {
            out += text[i];
        }
    }
    return out;
}

// A letter alone is a channel's name at least as often as a unit: "Channel A".
bool may_stand_unmarked(const Unit& unit) {
    return unit.dimension == Dimension::voltage ||
           (unit.dimension == Dimension::time && unit.text != "h" && unit.text != "min" &&
            unit.text != "S") ||
           (unit.dimension == Dimension::humidity && unit.text != "%");
}

bool is_unit_of_something_else(std::string_view text) {
    static constexpr std::array<std::string_view, 24> units = {"N",
                                                               "Pa",
                                                               "hPa",
                                                               "kPa",
                                                               "bar",
                                                               "W",
                                                               "mW",
                                                               "Ohm",
                                                               "ohm",
                                                               "\xCE\xA9",
                                                               "\xE2\x84\xA6",
                                                               "Hz",
                                                               "kHz",
                                                               "K",
                                                               "F",
                                                               "\xC2\xB0"
                                                               "F",
                                                               "lx",
                                                               "m",
                                                               "mm",
                                                               "g",
                                                               "kg",
                                                               "J",
                                                               "dB",
                                                               "deg"};
    return std::ranges::find(units, text) != units.end();
}

// "temp_C" and "t_h" carry units, "channel_C" and "U_A" do not.
bool may_follow_an_underscore(const Unit& unit, std::string_view name) {
    const Meaning meaning = meaning_of(name);
    if (unit.text == "C") return meaning.temperature;
    if (unit.text == "A") return meaning.other || lowered(name) == "i";
    if (unit.text == "h") return meaning.time;
    return true;
}

}  // namespace

std::string lowered(std::string_view text) {
    std::string out(text);
    for (char& c : out)
        if (c >= 'A' && c <= 'Z') c = static_cast<char>(c + ('a' - 'A'));
    return out;
}

std::optional<Unit> read_unit(std::string_view text) {
    const std::string plain = without_brackets(text);
    for (const UnitWord& unit : symbols)
        if (plain == unit.text) return Unit{plain, unit.dimension, unit.factor};
    const std::string word = lowered(plain);
    for (const UnitWord& unit : unit_words)
        if (word == unit.text) return Unit{plain, unit.dimension, unit.factor};
    return std::nullopt;
}

Heading read_heading(std::string_view text) {
    text = trimmed(text);
    if (text.empty()) return {};
    const auto name_before = [text](std::size_t at) { return std::string(trimmed(text.substr(0, at))); };
    // "Time [s]", "Voltage (mV)", "U [V] upper"
    for (const auto& [opens, closes] : {std::pair{'[', ']'}, std::pair{'(', ')'}, std::pair{'{', '}'}}) {
        const std::size_t at = text.rfind(opens);
        if (at == std::string_view::npos || at == 0) continue;
        const std::size_t end = text.find(closes, at);
        if (end == std::string_view::npos) continue;
        const std::string_view inside = trimmed(text.substr(at + 1, end - at - 1));
        std::string name = name_before(at);
        if (const std::string_view rest = trimmed(text.substr(end + 1)); !rest.empty())
            name += ' ' + std::string(rest);
        if (auto unit = read_unit(inside)) return {name, unit};
        // Square brackets hold units, round ones also remarks: "V(out)", "CH1 (mean)".
        if (!inside.empty() && (opens == '[' || is_unit_of_something_else(inside)))
            return {name, Unit{std::string(inside), Dimension::other, 1}};
    }
    // "t / s", "Time, s", "Voltage_V"
    for (const char mark : {'/', ',', '_'}) {
        const std::size_t at = text.rfind(mark);
        if (at == std::string_view::npos || at == 0) continue;
        const auto unit = read_unit(text.substr(at + 1));
        if (unit && (mark != '_' || may_follow_an_underscore(*unit, text.substr(0, at))))
            return {name_before(at), unit};
    }
    // "t in s"
    if (const std::size_t at = text.rfind(" in "); at != std::string_view::npos && at > 0)
        if (auto unit = read_unit(text.substr(at + 4))) return {name_before(at), unit};
    // "CH1 mV"
    if (const std::size_t at = text.rfind(' '); at != std::string_view::npos && at > 0)
        if (auto unit = read_unit(text.substr(at + 1)); unit && may_stand_unmarked(*unit))
            return {name_before(at), unit};
    // "Volt", "ms", "millis"
    if (auto unit = read_unit(text); unit && may_stand_unmarked(*unit)) return {std::string(text), unit};
    return {std::string(text), std::nullopt};
}

Meaning meaning_of(std::string_view name) {
    const std::vector<std::string> words = words_of(name);
    Meaning m;
    m.time = names(words, time_words) || lowered(trimmed(name)) == "x-axis";
    m.index = names(words, index_words) || trimmed(name) == "#";
    m.voltage = names(words, voltage_words);
    m.specimen = names(words, specimen_words);
    m.electrode = names(words, electrode_words);
    m.marker = names(words, marker_words);
    m.humidity = names(words, humidity_words);
    m.temperature = names(words, temperature_words);
    m.codes = names(words, code_words);
    m.other = names(words, other_words);
    return m;
}

}  // namespace ebbtide::recording
