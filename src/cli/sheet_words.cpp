#include "cli/sheet_words.hpp"

#include <fmt/format.h>

#include "basis/number_text.hpp"
#include "cli/print.hpp"

namespace ebbtide::cli {

std::string_view other_operator(work::SheetOperator used) {
    return work::name_of(used == work::SheetOperator::hanging ? work::SheetOperator::backed
                                                              : work::SheetOperator::hanging);
}

std::string capacitance_words(work::CapacitanceSource source) {
    switch (source) {
        case work::CapacitanceSource::calibrated:
            return "capacitance calibrated";
        case work::CapacitanceSource::stated:
            return "capacitance as stated";
        case work::CapacitanceSource::by_lengths:
            return "capacitance by the fixture's lengths, not calibrated";
        case work::CapacitanceSource::unknown:
            return "capacitance unknown";
    }
    return "";
}

std::string percent_apart(double ratio) {
    const double percent = 100 * (ratio - 1);
    return (percent >= 0 ? "+" : "") + fixed_text(percent, 0);
}

std::string sheet_words(work::SheetOperator used, work::CapacitanceSource source, double u_capacitance,
                        const std::string& caution) {
    std::string out = fmt::format("{} sheet, {}", work::name_of(used), capacitance_words(source));
    if (u_capacitance > 0) out += fmt::format(" (u {} %)", significant_text(100 * u_capacitance, 2));
    out += "\n";
    if (!caution.empty()) out += "  " + wrapped(caution, screen - 2, 2) + "\n";
    return out;
}

}  // namespace ebbtide::cli
