#include "report/budget_table.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "basis/number_text.hpp"
#include "report/chapters.hpp"
#include "report/words.hpp"

namespace ebbtide::report {
namespace {

std::string relative_text(double u) {
    return significant_text(100 * u, 2) + " %";
}

std::string sensitivity_text(const decay::Contribution& line) {
    if (line.unit.empty() || line.unit == "1") return prefixed_text(line.sensitivity, 3, "s");
    if (line.unit == "s") return significant_text(line.sensitivity, 3);
    return prefixed_text(line.sensitivity, 3, "s/" + line.unit);
}

/// Places that give three digits of the sum; every line of the budget is written with them.
int places_for(double u_s) {
    return u_s > 0 ? std::clamp(2 - static_cast<int>(std::floor(std::log10(u_s))), 0, 12) : 4;
}

std::string contribution_text(double u_s, int places) {
    const double smallest = std::pow(10.0, -places);
    return u_s > 0 && u_s < smallest / 2 ? "< " + fixed_text(smallest, places) : fixed_text(u_s, places);
}

std::string with_correlation(std::string text, const decay::Contribution& line) {
    if (line.correlated_with.empty() || line.correlation == 0) return text;
    return text + fmt::format("{}Correlated with {}, r\u00a0=\u00a0{}.", text.empty() ? "" : " ",
                              line.correlated_with, significant_text(line.correlation, 2));
}

}  // namespace

std::string_view explanation_of(const std::string& source) {
    struct Row {
        std::string_view word, text;
    };
    constexpr Row rows[] = {
        {"second order", "The curve flattens: noise that is even in volts is uneven in seconds."},
        {"lag model", "What is left when the sensor's lag is taken off as a plain delay."},
        {"skew", "Delay between the channels of the recorder."},
        {"humidity",
         "Conduction of most sheet goods changes steeply with humidity; a better hygrometer helps."},
        {"temperature", "Conduction changes with the temperature of the specimen."},
        {"clamping", "Mounting anew; averages down over series: more specimens, faces, polarities."},
        {"replicates",
         "Unrest of the material beyond the noise, seen in replicates; averages down over runs."},
        {"noise", "Scatter of the samples where the curve crosses the level; averages down over runs."},
        {"zero", "A wrong zero shifts the level most where the curve is low; a proven zero state helps."},
        {"initial", "The level is a fraction of V0, so an error of V0 moves it."},
        {"V0", "The level is a fraction of V0, so an error of V0 moves it."},
        {"release", "The clock starts at the release; a recorded electrode voltage pins it down."},
        {"sampling", "What lies between two samples; a higher sampling rate helps."},
        {"curvature", "The local line through a curved fall."},
        {"time base", "The recorder's clock, in parts of the time."},
        {"lag", "The field sensor follows with a delay."},
        {"linearity", "The sensor's gain differs between V0 and the level."},
        {"gain", "Counts only for levels given in volts."},
        {"induced", "What the sensor sees of the clamps."},
    };
    for (const Row& row : rows)
        if (source.find(row.word) != std::string::npos) return row.text;
    return "";
}

Table budget_table(std::span<const decay::Contribution> budget) {
    Table table;
    table.clause = "7.8.3.1 c";
    table.columns = {{"source"},
                     {"u", number},
                     {"sensitivity", number},
                     {"gives, s", number},
                     {"share of variance", number},
                     {"degrees of freedom", number},
                     {"shared over", one_line},
                     {"what it is"}};
    std::vector<const decay::Contribution*> lines;
    double variance = 0;
    for (const decay::Contribution& line : budget) {
        lines.push_back(&line);
        variance += line.u_s() * line.u_s();
    }
    const int places = places_for(std::sqrt(variance));
    std::ranges::stable_sort(lines, std::greater{},
                             [](const decay::Contribution* line) { return line->u_s(); });
    for (const decay::Contribution* line : lines) {
        const bool relative = line->unit.empty() || line->unit == "1";
        const std::string what = with_correlation(std::string(explanation_of(line->source)), *line);
        table.rows.push_back(
            {Cell{line->source, {}, false, true},
             Cell{
                 relative ? relative_text(line->u) : prefixed_text(line->u, 2, line->unit), {}, false, false},
             Cell{sensitivity_text(*line), {}, false, false},
             Cell{contribution_text(line->u_s(), places), {}, false, false},
             Cell{variance > 0 ? percent_text(line->u_s() * line->u_s() / variance) : "–", {}, false, false},
             Cell{freedom_text(line->degrees_of_freedom), {}, false, false},
             Cell{std::string(words_for(line->scope)), {}, false, false}, Cell{what, {}, true, false}});
    }
    return table;
}

}  // namespace ebbtide::report
