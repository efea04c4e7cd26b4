#pragma once
// Decay times over what is swept: a resistivity, a length of the fixture.

#include <optional>
#include <string>
#include <vector>

#include "report/picture.hpp"

namespace ebbtide::report {

/// One level: a decay time at each place; 0 where there is none.
struct SweepLine {
    std::string label;
    std::vector<double> decay_s;
};

struct SweepData {
    std::string title, subtitle;
    std::string axis;            ///< "surface resistivity, ohm"
    bool decades = false;        ///< places by their logarithm
    std::vector<double> places;  ///< ascending, at least two, above 0
    std::vector<SweepLine> lines;
    std::optional<double> limit_s = {};  ///< drawn across
    std::string limit_label = {};
};

/// Times by their logarithm. Expects a time above 0 somewhere.
[[nodiscard]] Picture sweep_plot(const SweepData& data, double width);

}  // namespace ebbtide::report
