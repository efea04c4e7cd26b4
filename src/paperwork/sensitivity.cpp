#include "paperwork/sensitivity.hpp"

namespace ebbtide::paperwork {

plan::Sensitivity read_sensitivity(TableReader table) {
    const Range humidity{.least = 0, .most = 100, .unit = "% RH", .least_excluded = true};
    const Range temperature{.least = 0, .most = 1000, .unit = "degrees Celsius", .least_excluded = true};
    plan::Sensitivity out;
    out.humidity_percent_per_decade = table.optional_number("humidity_percent_per_decade", humidity);
    out.temperature_C_per_decade = table.optional_number("temperature_C_per_decade", temperature);
    out.source = table.text("source");
    if (!table.has("humidity_percent_per_decade") && !table.has("temperature_C_per_decade"))
        table.problem(
            "source", "the sensitivity states neither humidity nor temperature",
            "Give 'humidity_percent_per_decade', 'temperature_C_per_decade' or both, or take the table out");
    return out;
}

}  // namespace ebbtide::paperwork
