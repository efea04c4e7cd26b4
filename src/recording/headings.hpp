#pragma once
// Words and units above columns: what the headings of instruments say about the numbers below.

#include <optional>
#include <string>
#include <string_view>

namespace ebbtide::recording {

enum class Dimension { time, voltage, current, humidity, temperature, codes, other };

struct Unit {
    std::string text;  ///< as recorded
    Dimension dimension = Dimension::other;
    double factor_to_SI = 1;  ///< to seconds, volts, amperes, %, C
};

/// A unit on its own, with or without brackets: "ms", "[kV]", "Volt", "µs", "% RH". Nothing for other text.
[[nodiscard]] std::optional<Unit> read_unit(std::string_view text);

struct Heading {
    std::string name;          ///< without the unit
    std::optional<Unit> unit;  ///< a bracket whose content is no unit we know gives Dimension::other
};
/// "Time [s]", "t / s", "Voltage_V", "U in kV", "Voltage (mV)", "millis", "Volt".
[[nodiscard]] Heading read_heading(std::string_view text);

/// What the words of a heading name. Several may hold; the reader of the whole recording decides.
struct Meaning {
    bool time = false, index = false;
    bool voltage = false, specimen = false, electrode = false, marker = false;
    bool humidity = false, temperature = false, codes = false;
    bool other = false;  ///< a quantity that is none of these: current, power, a phase number
};
[[nodiscard]] Meaning meaning_of(std::string_view name);

/// Lower case of ASCII letters.
[[nodiscard]] std::string lowered(std::string_view text);

}  // namespace ebbtide::recording
