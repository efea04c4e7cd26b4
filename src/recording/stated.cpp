#include "recording/stated.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include "basis/number_text.hpp"
#include "recording/cells.hpp"

namespace ebbtide::recording {

namespace {

// Seconds between samples, from an interval or a rate with or without a unit.
std::optional<double> interval_of(const MetadataLine& m, bool rate, char decimal_sign) {
    std::string_view text = trimmed(std::string_view(m.value).substr(m.value.find(':') + 1));
    std::size_t end = text.find_first_not_of("+-0123456789.,eE");
    std::string number(text.substr(0, end));
    std::string unit(end == std::string_view::npos ? std::string_view{} : trimmed(text.substr(end)));
    if (decimal_sign == ',') std::ranges::replace(number, ',', '.');
    if (!number.empty() && number.back() == ',') number.pop_back();
    while (!unit.empty() && (unit[0] == ',' || unit[0] == ';' || unit[0] == ' ')) unit.erase(0, 1);
    const std::optional<double> value = parse_number(number);
    if (!value || !(*value > 0)) return std::nullopt;
    if (unit.empty())
        if (const Heading heading = read_heading(m.key); heading.unit) unit = heading.unit->text;
    double factor = 1;
    if (rate) {
        switch (unit.empty() ? ' ' : unit[0]) {
            case 'k':
            case 'K':
                factor = 1e3;
                break;
            case 'M':
                factor = 1e6;
                break;
            case 'G':
                factor = 1e9;
                break;
            default:
                break;
        }
    } else if (const auto stated = read_unit(unit)) {
        if (stated->dimension != Dimension::time) return std::nullopt;
        factor = stated->factor_to_SI;
    } else if (!unit.empty()) {
        return std::nullopt;
    }
    const double seconds = rate ? 1 / (*value * factor) : *value * factor;
    return std::isfinite(seconds) && seconds > 0 ? std::optional(seconds) : std::nullopt;
}

}  // namespace

std::optional<StatedUnit> stated_unit(const std::vector<MetadataLine>& metadata, Dimension dimension) {
    for (const MetadataLine& m : metadata) {
        const std::string key = lowered(m.key);
        if (key.find("unit") == std::string::npos && key.find("einheit") == std::string::npos) continue;
        const std::string_view value = std::string_view(m.value).substr(m.value.find(':') + 1);
        if (auto unit = read_unit(value); unit && unit->dimension == dimension)
            return StatedUnit{*unit, m.line};
    }
    return std::nullopt;
}

std::optional<StatedInterval> stated_interval(const std::vector<MetadataLine>& metadata, char decimal_sign) {
    static constexpr std::array interval_keys = {"sample interval", "sampling interval", "sample period",
                                                 "sampling period", "increment",         "abtastintervall",
                                                 "sample time",     "delta t",           "xincr",
                                                 "scan interval",   "logging interval",  "interval"};
    static constexpr std::array rate_keys = {"sample rate", "sampling rate",      "samplerate",
                                             "abtastrate",  "sampling frequency", "sample frequency",
                                             "scan rate"};
    const auto holds = [](const std::string& key, const auto& keys) {
        return std::ranges::any_of(keys, [&key](const char* k) { return key.find(k) != std::string::npos; });
    };
    for (const MetadataLine& m : metadata) {
        std::string key = lowered(m.key);
        std::ranges::replace(key, '_', ' ');
        const bool interval = holds(key, interval_keys) || key == "dt";
        const bool rate = !interval && holds(key, rate_keys);
        if (!interval && !rate) continue;
        const auto seconds = interval_of(m, rate, decimal_sign);
        if (!seconds) continue;
        return StatedInterval{*seconds, m.line, m.key};
    }
    return std::nullopt;
}

}  // namespace ebbtide::recording
