#include "work/lot_report.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
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

constexpr double oc_width_pt = 440;
constexpr report::Column::Kind kept_together = report::Column::Kind::name;

report::Cell plain(std::string text) {
    return {std::move(text), {}, false, false};
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

/// How surely so many specimens show the claim, of lots that are ever worse.
report::OcCurve operating_of(std::size_t specimens, const stats::Claim& claim) {
    report::OcCurve out{fmt::format("{} specimens", specimens), {}, {}};
    const double allowed = 1 - claim.share;
    constexpr int points = 40;
    for (int i = 0; i < points; ++i) {
        const double beyond = allowed / 200 * std::pow(400.0, static_cast<double>(i) / (points - 1));
        if (beyond >= 0.99) break;
        out.beyond.push_back(beyond);
        out.accepted.push_back(stats::power_to_show(static_cast<int>(specimens), claim, beyond));
    }
    return out;
}

}  // namespace

report::LotStatement statement_of(const OrderLot& one, LotDetail detail) {
    const Lot& lot = one.lot;
    report::LotStatement out;
    out.group = one.group;
    out.level = one.level;
    out.sentence = one.sentence;
    out.sampling = one.sampling_plan;
    out.word = lot.showing ? std::string(name_of(*lot.showing)) : "no claim";
    out.mark = !lot.showing                              ? plan::Conformity::void_
               : *lot.showing == stats::Showing::shown   ? plan::Conformity::pass
               : *lot.showing == stats::Showing::refuted ? plan::Conformity::fail
                                                         : plan::Conformity::void_;
    out.plain_words = lot.in_plain_words;
    std::size_t first = 0;
    if (!lot.reasons.empty() && lot.request.limit_s) out.said_of = lot.reasons[first++] + ".";
    for (; first < lot.reasons.size(); ++first) out.reasons.push_back(lot.reasons[first]);
    out.cautions = lot.cautions;
    out.sample = lot.sample;
    out.lognormal = lot.lognormal.fit;
    out.limit_s = lot.request.limit_s;
    const stats::Claim& claim = lot.request.claim;
    if (!lot.tolerance.empty() && lot.tolerance.front().upper_s)
        out.bound = {claim.share, *lot.tolerance.front().upper_s,
                     fmt::format("{} of the lot, with {} confidence", share_text(claim.share),
                                 share_text(claim.confidence))};
    if (lot.showing && lot.complete()) {
        out.operating = operating_of(lot.specimens, claim);
        out.claimed_beyond = 1 - claim.share;
    }
    if (detail == LotDetail::brief) return out;
    if (!lot.quantiles.empty()) out.tables.push_back(quantile_table(lot));
    if (!lot.tolerance.empty()) out.tables.push_back(bound_table(lot));
    return out;
}

std::vector<report::LotStatement> lot_statements(const record::OrderRecord& record) {
    std::vector<report::LotStatement> out;
    if (record.order.sampling_plan.empty()) return out;
    const auto lots = lots_of(std::span(&record, 1), {});
    if (!lots) return out;  // no run with a time: the report says so elsewhere
    for (const OrderLot& one : *lots) {
        // Requirements that ask the same limit of runs and of their mean say the same of the lot.
        const bool said = std::ranges::any_of(out, [&](const report::LotStatement& before) {
            return before.group == one.group && before.limit_s == one.lot.request.limit_s &&
                   before.level->same_as(*one.level);
        });
        if (one.lot.specimens > 1 && !said) out.push_back(statement_of(one, LotDetail::brief));
    }
    return out;
}

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
    std::vector<report::LotStatement> statements;
    for (const OrderLot& one : lots) statements.push_back(statement_of(one, LotDetail::full));
    report::add_lots(document, statements);
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
    document.blocks.emplace_back(report::FigureRow{{report::oc_plot(curves, marked, oc_width_pt)}, false});
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
