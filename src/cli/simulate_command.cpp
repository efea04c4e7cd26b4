#include <fmt/format.h>

#include "cli/commands.hpp"
#include "cli/print.hpp"
#include "work/simulate.hpp"

namespace ebbtide::cli {

int simulate(const SimulateOptions& options) {
    const auto written =
        work::simulate({options.simulation, options.output, options.recording, options.seed});
    if (!written) return complain(written.error());
    for (const std::string& recording : written->recordings) fmt::print("{}\n", recording);
    fmt::print("{}: the truth of {} {}\n", written->truth, written->releases,
               written->releases == 1 ? "release" : "releases");
    return ok;
}

}  // namespace ebbtide::cli
