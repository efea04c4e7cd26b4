#include "bench/bench.hpp"

namespace ebbtide::bench {

std::string_view name_of(Action action) {
    switch (action) {
        case Action::set_voltage:
            return "set_voltage";
        case Action::output_on:
            return "output_on";
        case Action::output_off:
            return "output_off";
        case Action::earth_clamps:
            return "earth_clamps";
        case Action::lift_earth:
            return "lift_earth";
        case Action::close_shutter:
            return "close_shutter";
        case Action::open_shutter:
            return "open_shutter";
    }
    return "";
}

}  // namespace ebbtide::bench
