#pragma once
// Channels: one recorded quantity each, with its own time axis and the validity of its samples.

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "trace/samples.hpp"

namespace ebbtide::trace {

enum class Quantity {
    specimen_voltage,
    electrode_voltage,
    release_marker,
    relative_humidity,
    temperature,
    other,  ///< kept out of the analysis
};
[[nodiscard]] constexpr std::string_view name_of(Quantity quantity) {
    switch (quantity) {
        case Quantity::specimen_voltage:
            return "specimen_voltage";
        case Quantity::electrode_voltage:
            return "electrode_voltage";
        case Quantity::release_marker:
            return "release_marker";
        case Quantity::relative_humidity:
            return "relative_humidity";
        case Quantity::temperature:
            return "temperature";
        case Quantity::other:
            return "other";
    }
    return "";
}

[[nodiscard]] std::optional<Quantity> quantity_named(std::string_view name);

/// What a channel of a recording is, as its reader understood it.
struct ChannelDescription {
    std::string heading;  ///< as recorded; "column 2" where there is none
    std::string unit;     ///< as recorded: "mV", "kV", "codes"; empty when none is given
    double factor_to_SI =
        1;  ///< recorded number times this is in volts (or %, C; 1 for codes and unknown units)
    Quantity quantity = Quantity::other;
    int column = 0;  ///< of the original, from 1; 0 where it had none
};

/// What a reader saw that a person must know. Samples are never repaired in silence.
struct Notice {
    enum class Kind {
        value_missing,
        time_gap,
        time_backwards,
        time_repeated,
        torn_last_line,
        text_between,
        clipped,
        damaged,    ///< bytes of a container that are no record, or records missing, repeated, out of place
        torn_tail,  ///< a container that was not closed
        record_skipped,  ///< a record of a kind that this version does not know
        samples_lost     ///< a live stream brought more than was taken in time
    };
    Kind kind;
    std::uint64_t line = 0;   ///< first line on which it was seen, from 1; 0 when the recording has no lines
    int column = 0;           ///< from 1; 0 for the whole line
    std::uint64_t count = 1;  ///< how many like it followed up to the end of the block
    /// Time of the sample before it, so that it can be laid on the run it belongs to; at the start of a
    /// segment the time of the sample itself.
    double time_s = 0;
    std::string text;  ///< "the cell holds 'nan'"
};
[[nodiscard]] std::string_view name_of(Notice::Kind kind);
[[nodiscard]] std::optional<Notice::Kind> notice_kind_named(std::string_view name);

}  // namespace ebbtide::trace
