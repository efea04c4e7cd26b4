#include "bench/rehearsal_bench.hpp"

#include <algorithm>
#include <cmath>

namespace ebbtide::bench {

Result<Done> RehearsalBench::send(const Command& command) {
    switch (command.action) {
        case Action::set_voltage:
            set_V_ = command.voltage_V;
            break;
        case Action::output_on:
        case Action::output_off:
            on_ = command.action == Action::output_on;
            break;
        case Action::earth_clamps:
        case Action::lift_earth:
            earthed_ = command.action == Action::earth_clamps;
            break;
        case Action::close_shutter:
        case Action::open_shutter:
            shutter_closed_ = command.action == Action::close_shutter;
            break;
    }
    return Done{};
}

Result<Observation> RehearsalBench::observe(double duration_s) {
    const double dt_s = rehearsal_.sample_interval_s;
    const auto count = static_cast<std::uint64_t>(std::max(1.0, std::round(duration_s / dt_s)));
    Observation seen;
    seen.from_s = now_s();
    seen.sample_interval_s = dt_s;
    seen.specimen.reserve(count);
    seen.electrode.reserve(count);
    // Exact over a step in which the electrode's end stands still.
    const double target_V = on_ && !earthed_ ? set_V_ : 0;
    const double electrode_s = earthed_ ? rehearsal_.earthing_s
                               : on_    ? rehearsal_.rise_s
                                        : rehearsal_.bleed_s;
    const double keep_electrode = std::exp(-dt_s / electrode_s);
    const double keep_specimen = std::exp(-dt_s / rehearsal_.specimen_s);
    for (std::uint64_t i = 0; i < count; ++i) {
        electrode_V_ = target_V + (electrode_V_ - target_V) * keep_electrode;
        specimen_V_ = electrode_V_ + (specimen_V_ - electrode_V_) * keep_specimen;
        const double induced = rehearsal_.induced_fraction;
        const double read_V = shutter_closed_ ? 0 : (1 - induced) * specimen_V_ + induced * electrode_V_;
        seen.specimen.push_back(scales_.specimen.recorded(read_V));
        seen.electrode.push_back(scales_.electrode.recorded(electrode_V_));
    }
    samples_ += count;
    const auto state = [](bool is) { return is ? State::yes : State::no; };
    seen.interlock_closed = State::yes;
    seen.output_on = state(on_);
    seen.earthed = state(earthed_);
    seen.shutter_closed = state(shutter_closed_);
    return seen;
}

}  // namespace ebbtide::bench
