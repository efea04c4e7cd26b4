#include "work/compare_report.hpp"

#include <fmt/format.h>

#include "basis/number_text.hpp"
#include "basis/version.hpp"
#include "report/compare_plot.hpp"
#include "work/lot_words.hpp"

namespace ebbtide::work {
namespace {

constexpr report::Column::Kind on_one_line = report::Column::Kind::name;

report::Cell as_cell(std::string text) {
    return {std::move(text), {}, false, false};
}

std::string factor_range(const stats::ConfidenceInterval& interval) {
    return fmt::format("{} to {}", significant_text(*interval.low, 3), significant_text(*interval.high, 3));
}

report::Table group_table(const Comparison& comparison) {
    report::Table table;
    table.title = "The groups";
    table.columns = {{comparison.request.by},           {"specimens", on_one_line},
                     {"known by a bound", on_one_line}, {"geometric mean", on_one_line},
                     {"95 % interval", on_one_line},    {"spread, factor", on_one_line}};
    for (const ComparedGroup& one : comparison.groups)
        table.rows.push_back({as_cell(one.name), as_cell(std::to_string(one.specimens)),
                              as_cell(std::to_string(one.specimens - one.measured)),
                              as_cell(one.mean_s ? seconds_text(*one.mean_s) : one.missing),
                              as_cell(one.mean_s ? range_text(one.interval) : ""),
                              as_cell(one.spread_factor ? significant_text(*one.spread_factor, 3) : "")});
    return table;
}

report::Table pair_table(const Comparison& comparison) {
    report::Table table;
    table.title = "Pairs: how many times as long the second takes as the first";
    table.columns = {
        {"first"},
        {"second"},
        {"ratio", on_one_line},
        {"95 % interval", on_one_line},
        {"by chance", on_one_line},
        {fmt::format("not alike within {}", significant_text(comparison.request.alike_within, 3)),
         on_one_line}};
    for (const ComparedPair& one : comparison.pairs)
        table.rows.push_back(
            {as_cell(one.first), as_cell(one.second + (one.paired ? ", same specimens" : "")),
             as_cell(significant_text(one.ratio, 3)), as_cell(factor_range(one.ratio_interval)),
             as_cell(chance_text(one.p)), as_cell(chance_text(one.alike_p))});
    return table;
}

}  // namespace

report::Picture plot_of(const Comparison& comparison, double width) {
    std::vector<report::PlottedGroup> plotted;
    for (const ComparedGroup& one : comparison.groups)
        plotted.push_back({one.name, one.sample, one.mean_s, one.interval});
    return report::compare_plot(plotted, width);
}

report::Document compose(const Comparison& comparison, const std::string& subject, Instant made) {
    report::Document document;
    document.program = fmt::format("ebbtide {}", version_text);
    document.made = made;
    document.title_clause = document.id_clause = "";
    document.title = "Decay times compared";
    document.id_and_revision = "Comparison: " + subject;
    document.page_notice =
        "A calculation, not a statement of conformity: it speaks of the specimens that were tested.";
    document.subject = "Comparison of decay times";
    document.blocks.emplace_back(report::Heading{fmt::format("By {}: {}", comparison.request.by, subject)});
    document.blocks.emplace_back(report::Bullets{comparison.reasons, ""});
    document.blocks.emplace_back(report::FigureRow{{plot_of(comparison, report::text_width_pt)}, true});
    document.blocks.emplace_back(report::Paragraph{
        "Each disc is a specimen; an open one with a line to the right did not reach the level and takes "
        "longer, one with a line to the left is shorter than its bound; a blue bar is known between two "
        "bounds. The tall bar is the geometric mean, the line through it its 95 % interval.",
        report::Paragraph::Look::note, ""});
    document.blocks.emplace_back(group_table(comparison));
    if (!comparison.pairs.empty()) document.blocks.emplace_back(pair_table(comparison));
    document.blocks.emplace_back(
        report::Paragraph{"What this does not prove:", report::Paragraph::Look::body, ""});
    document.blocks.emplace_back(report::Bullets{comparison.cautions, ""});
    return document;
}

}  // namespace ebbtide::work
