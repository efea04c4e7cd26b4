#include "work/bench_volts.hpp"

#include <fmt/format.h>

#include <cmath>

#include "basis/number_text.hpp"

namespace ebbtide::work {

std::vector<double> in_volts(const trace::Samples& samples, const plan::VoltageScale* scale) {
    std::vector<double> volts(samples.value.begin(), samples.value.end());
    if (scale)
        for (double& value : volts) value = scale->volts(value);
    return volts;
}

std::optional<std::string> no_voltage_in(const recording::ChannelBlock& channel,
                                         const plan::VoltageScale* scale) {
    for (std::size_t i = 0; i < channel.value.size(); ++i) {
        const double value = scale ? scale->volts(channel.value[i]) : channel.value[i];
        if (std::abs(value) <= largest_figure && std::abs(channel.time_s[i]) <= largest_figure) continue;
        return fmt::format("reads {} (time {} s), which is no voltage or time of a bench",
                           shortest_text(channel.value[i]), shortest_text(channel.time_s[i]));
    }
    return {};
}

}  // namespace ebbtide::work
