#pragma once
// A bench that takes commands, whatever answers behind it: a simulated one, or instruments on a line.

#include <cstdint>
#include <optional>
#include <string_view>
#include <vector>

#include "basis/result.hpp"

namespace ebbtide::bench {

enum class Action {
    set_voltage,    ///< of the source, with its sign: the polarity; nothing is switched on by it
    output_on,      ///< the source is laid on the clamps
    output_off,     ///< and taken off; this alone earths nothing
    earth_clamps,   ///< through the bench's own relay
    lift_earth,     ///< clamps float
    close_shutter,  ///< before the sensor: it looks at an earthed plate
    open_shutter,
};
[[nodiscard]] std::string_view name_of(Action action);

struct Command {
    Action action = Action::output_off;
    double voltage_V = 0;  ///< of set_voltage
};

/// A state that was read, or could not be. Nothing may be concluded from one that was not.
enum class State { unread, no, yes };

/// What the bench showed over a stretch of its own clock.
struct Observation {
    double from_s = 0;  ///< bench clock at the first sample, seconds since the bench was opened
    double sample_interval_s = 0;
    /// As a recorder would have it: numbers that plan::VoltageScale turns into volts. As many of each; those
    /// of the specimen are none where the sensor was silent when the stretch ended.
    std::vector<double> specimen, electrode;
    std::uint64_t lost = 0;  ///< samples that were not kept, before the first of these
    // At the end of the stretch.
    State interlock_closed = State::unread;
    State output_on = State::unread;  ///< as read back from the source
    State earthed = State::unread;
    State shutter_closed = State::unread;
    std::optional<double> temperature_C, relative_humidity_percent;
};

/// One thread. A command has left for the bench when send() has returned.
class Bench {
  public:
    virtual ~Bench() = default;
    /// Errors: the link is lost (`unreadable`); the bench refuses (`bad_input`, with its own words).
    [[nodiscard]] virtual Result<Done> send(const Command& command) = 0;
    /// Lets the bench's clock run on by `duration_s` (above 0; a real bench waits so long) and gives what was
    /// sampled meanwhile, without a gap to the stretch before. Error: the link is lost.
    [[nodiscard]] virtual Result<Observation> observe(double duration_s) = 0;
};

}  // namespace ebbtide::bench
