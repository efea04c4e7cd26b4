#include "work/lot_report.hpp"

#include <fmt/format.h>

#include <set>

#include "basis/number_text.hpp"
#include "basis/version.hpp"
#include "report/html_writer.hpp"
#include "report/lot_plot.hpp"
#include "report/pdf_attachments.hpp"
#include "report/pdf_writer.hpp"
#include "work/lot_words.hpp"

namespace ebbtide::work {
namespace {

constexpr double plot_width_pt = 440;
constexpr report::Column::Kind kept_together = report::Column::Kind::name;

report::Cell plain(std::string text) {
    return {std::move(text), {}, false, false};
}

report::Statement statement_of_lot(const Lot& lot) {
    report::Statement out;
    out.clause = "";
    out.word = lot.showing ? std::string(name_of(*lot.showing)) : "no claim";
    out.conformity = !lot.showing                              ? plan::Conformity::void_
                     : *lot.showing == stats::Showing::shown   ? plan::Conformity::pass
                     : *lot.showing == stats::Showing::refuted ? plan::Conformity::fail
                                                               : plan::Conformity::void_;
    std::size_t first = 0;
    if (!lot.reasons.empty() && lot.request.limit_s) out.said_of = lot.reasons[first++] + ".";
    for (; first < lot.reasons.size(); ++first) out.reasons.push_back(lot.reasons[first]);
    return out;
}

report::Table quantile_table(const Lot& lot) {
    report::Table table;
    table.title = "By the lognormal law";
    table.columns = {{"share of the lot", kept_together},
                     {"takes at most", kept_together},
                     {"95 % interval", kept_together}};
    for (const LotQuantile& one : lot.quantiles)
        table.rows.push_back({plain(share_text(one.share)), plain(seconds_text(one.decay_s)),
                              plain(range_text(one.interval))});
    return table;
}

report::Table bound_table(const Lot& lot) {
    report::Table table;
    table.title = "Bounds for shares of the lot";
    table.columns = {{"share", kept_together},
                     {"confidence", kept_together},
                     {"way", kept_together},
                     {"k", kept_together},
                     {"bound"}};
    for (const LotBound& one : lot.tolerance) {
        std::string bound = one.missing;
        if (one.upper_s)
            bound = one.two_sided ? fmt::format("{} to {}", significant_text(*one.lower_s, 3),
                                                seconds_text(*one.upper_s))
                                  : "at most " + seconds_text(*one.upper_s);
        table.rows.push_back({plain(share_text(one.claim.share)), plain(share_text(one.claim.confidence)),
                              plain(one.way == LotBound::Way::order        ? "by order alone"
                                    : one.way == LotBound::Way::likelihood ? "by likelihood"
                                    : one.two_sided                        ? "lognormal, both sides"
                                                                           : "lognormal"),
                              plain(one.factor ? fixed_text(*one.factor, 3) : ""), plain(bound)});
    }
    return table;
}

report::Document empty_document(Instant made) {
    report::Document document;
    document.program = fmt::format("ebbtide {}", version_text);
    document.made = made;
    document.title_clause = document.id_clause = "";
    return document;
}

void add_lot(report::Document& document, const OrderLot& one) {
    const Lot& lot = one.lot;
    document.blocks.emplace_back(report::Heading{one.group.empty() ? "The lot" : one.group});
    document.blocks.emplace_back(statement_of_lot(lot));
    if (!one.sentence.empty()) {
        report::Facts facts;
        facts.rows = {
            {"Requirement", one.sentence, ""},
            {"Sampling", one.sampling_plan.empty() ? "no plan stated" : one.sampling_plan, "7.8.2.1 k"}};
        document.blocks.emplace_back(std::move(facts));
    }
    std::optional<report::MarkedBound> bound;
    if (!lot.tolerance.empty() && lot.tolerance.front().upper_s)
        bound = {lot.tolerance.front().claim.share, *lot.tolerance.front().upper_s};
    document.blocks.emplace_back(report::FigureRow{
        {report::probability_plot(lot.sample, lot.lognormal.fit, lot.request.limit_s, bound, plot_width_pt)},
        true});
    document.blocks.emplace_back(report::Paragraph{
        "Each disc is a specimen; an open one with a line to the right did not reach the level and takes "
        "longer; a bar is known between two bounds. Specimens of a lognormal lot lie along a straight line.",
        report::Paragraph::Look::note, ""});
    if (!lot.quantiles.empty()) document.blocks.emplace_back(quantile_table(lot));
    if (!lot.tolerance.empty()) document.blocks.emplace_back(bound_table(lot));
    document.blocks.emplace_back(
        report::Paragraph{"What this does not prove", report::Paragraph::Look::body, ""});
    document.blocks.emplace_back(report::Bullets{lot.cautions, ""});
}

}  // namespace

report::Document compose(std::span<const OrderLot> lots, Instant made) {
    report::Document document = empty_document(made);
    document.title = "What the specimens say of their lot";
    std::set<std::string> orders;
    for (const OrderLot& one : lots) orders.insert(one.orders.begin(), one.orders.end());
    document.id_and_revision = orders.empty() ? "Report on a lot, bare decay times"
                                              : fmt::format("Report on lots of {}", fmt::join(orders, ", "));
    document.laboratory = "";
    document.page_notice =
        "A calculation, not a statement of conformity: it speaks of lots as far as their sampling carries.";
    document.subject = "Decay times of a lot";
    for (const OrderLot& one : lots) add_lot(document, one);
    return document;
}

report::Document compose(const Sampling& sampling, Instant made) {
    report::Document document = empty_document(made);
    document.title = "A plan for testing a lot";
    document.id_and_revision = "Report on a sampling plan";
    document.page_notice = "Plans hold for lots from which specimens are drawn at random.";
    document.subject = "Sampling plan";
    report::OcCurve variables{"by variables", {}, {}}, attributes{"by attributes", {}, {}};
    for (const OcPoint& point : sampling.oc) {
        variables.beyond.push_back(point.beyond);
        variables.accepted.push_back(point.by_variables);
        attributes.beyond.push_back(point.beyond);
        attributes.accepted.push_back(point.by_attributes);
    }
    const std::vector<report::OcCurve> curves{variables, attributes};
    const std::vector<double> marked{sampling.request.risks.good_beyond, sampling.request.risks.poor_beyond};
    document.blocks.emplace_back(report::Bullets{in_words(sampling), ""});
    document.blocks.emplace_back(report::FigureRow{{report::oc_plot(curves, marked, plot_width_pt)}, false});
    return document;
}

Result<std::string> written(const report::Document& document, const std::string& output,
                            const std::string& name, const std::string& json) {
    if (output.ends_with(".html")) return report::html_of(document);
    const auto pages = report::pdf_of(document, report::Paper::a4);
    if (!pages) return pages.error();
    return report::with_attachments(
        *pages, document, {{name, "application/json", "All figures of this document, unrounded", json}});
}

}  // namespace ebbtide::work
