#pragma once
// What the metadata states about time and units.

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

#include "recording/headings.hpp"
#include "recording/layout.hpp"

namespace ebbtide::recording {

struct StatedUnit {
    Unit unit;
    std::uint64_t line = 0;
};
/// "Horizontal Units,ms" or "Vertical Units,mV": the first unit of this dimension.
[[nodiscard]] std::optional<StatedUnit> stated_unit(const std::vector<MetadataLine>& metadata,
                                                    Dimension dimension);

struct StatedInterval {
    double interval_s = 0;  ///< finite, above zero
    std::uint64_t line = 0;
    std::string key;
};
/// "Sample Interval,2.0E-03", "Sampling rate: 1 kHz", "Increment,1e-3". Without a unit: seconds, hertz.
[[nodiscard]] std::optional<StatedInterval> stated_interval(const std::vector<MetadataLine>& metadata,
                                                            char decimal_sign);

}  // namespace ebbtide::recording
