#include "paperwork/sheet_map_file.hpp"

#include <fmt/format.h>

#include <array>
#include <utility>

#include "paperwork/document.hpp"
#include "paperwork/ranges.hpp"
#include "paperwork/table_reader.hpp"

namespace ebbtide::paperwork {
namespace {

constexpr Range map_ohms{.least = 1, .most = 1e20, .unit = "ohm"};
constexpr Range place_mm{.least = 0, .most = 1e4, .unit = "mm"};

plan::SheetThreads sheet_threads(TableReader& table) {
    static constexpr std::array<std::pair<std::string_view, bool>, 2> runs{
        {{"from_clamp_to_clamp", true}, {"along_the_clamps", false}}};
    plan::SheetThreads out;
    out.clamp_to_clamp = table.choice<bool>("run", runs).value_or(true);
    out.pitch_mm = table.number("pitch_mm", millimetres);
    out.thread_mm = table.number("thread_mm", millimetres);
    out.first_mm = table.number_or("first_mm", place_mm, out.pitch_mm / 2);
    out.surface_resistivity_ohm_sq = table.number("surface_resistivity_ohm_sq", map_ohms);
    if (out.pitch_mm > 0 && out.thread_mm >= out.pitch_mm)
        table.problem("thread_mm",
                      fmt::format("threads of {} mm fill a pitch of {} mm", out.thread_mm, out.pitch_mm),
                      "Something must lie between them");
    if (out.pitch_mm > 0 && out.first_mm > out.pitch_mm)
        table.problem("first_mm", fmt::format("the first thread lies at {} mm, beyond a pitch", out.first_mm),
                      "Count from the edge, at most one pitch");
    return out;
}

plan::SheetPatch sheet_patch(TableReader& table) {
    plan::SheetPatch out;
    const auto side = [&](const char* from_key, const char* to_key, double& from, double& to) {
        from = table.number(from_key, place_mm);
        to = table.number(to_key, millimetres);
        if (to > 0 && !(from < to))
            table.problem(to_key, fmt::format("a patch from {} to {} mm has no width", from, to),
                          fmt::format("'{}' must be below '{}'", from_key, to_key));
    };
    side("along_from_mm", "along_to_mm", out.along_from_mm, out.along_to_mm);
    side("across_from_mm", "across_to_mm", out.across_from_mm, out.across_to_mm);
    out.surface_resistivity_ohm_sq = table.number("surface_resistivity_ohm_sq", map_ohms);
    return out;
}

}  // namespace

plan::SheetMapFile sheet_map_in(TableReader& top) {
    plan::SheetMapFile out;
    out.width_mm = top.number("width_mm", millimetres);
    out.cell_mm = top.number("cell_mm", millimetres);
    out.surface_resistivity_ohm_sq = top.number("surface_resistivity_ohm_sq", map_ohms);
    out.leak_S_m2 = top.number_or("leak_S_m2", {.least = 0, .most = 1e3, .unit = "S/m2"}, 0);
    for (TableReader& table : top.tables_or_none("threads")) out.threads.push_back(sheet_threads(table));
    for (TableReader& table : top.tables_or_none("patch")) out.patches.push_back(sheet_patch(table));
    return out;
}

Result<plan::SheetMapFile> parse_sheet_map(std::string_view toml, const std::string& name) {
    return read_document<plan::SheetMapFile>(toml, name, "sheet_map",
                                             [](TableReader& top, const Node&) { return sheet_map_in(top); });
}

}  // namespace ebbtide::paperwork
