#include <fmt/format.h>

#include "report/chapters.hpp"
#include "report/html_writer.hpp"
#include "report/lot_statement.hpp"
#include "report/pdf_attachments.hpp"
#include "report/pdf_writer.hpp"

namespace ebbtide::report {

namespace {

/// The input as the chapters show it: under the rule that was applied. Whoever authorised the report that the
/// order agreed has not authorised this one.
ReportInput under_other_terms(const ReportInput& input) {
    ReportInput applied{input.record, input.traces, {}};
    plan::Order& order = applied.record.order;
    order.issued.reset();
    order.authorised_by.clear();
    order.authorised_role.clear();
    order.decision_rule = plan::rule_under(input.record.terms, order);
    if (input.record.terms.decision_rule)
        order.decision_rule.agreed = "by nobody; the rule was asked for when judging again";
    return applied;
}

Document composed(const ReportInput& input, const ReportInput& as_agreed,
                  std::span<const LotStatement> lots) {
    const record::OrderRecord& record = input.record;
    const plan::Order& order = record.order;
    Document document;
    const bool other_terms = record.terms.any();
    document.title = order.amendment ? "Amended test report" : "Test report";
    if (other_terms) document.title += ", judged under other terms";
    if (!order.title.empty()) document.title += ": " + order.title;
    document.laboratory = order.laboratory.name;
    document.id_and_revision = fmt::format("Report {}, revision {}", order.id, order.revision);
    // What nobody has authorised or issued is no report yet; every page says so.
    if (other_terms)
        document.id_and_revision += " (under other terms, not issued)";
    else if (order.authorised_by.empty() || !order.issued)
        document.id_and_revision += " (draft, not issued)";
    document.page_notice =
        "The results relate only to the items tested. Not to be reproduced except in full without the "
        "approval of the laboratory.";
    document.subject =
        fmt::format("Charge decay, {}: {}", order.id, plan::name_of(record.judgement.statement));
    document.program = "ebbtide " + record.engine_version;
    document.made = record.made;

    add_other_terms(document, as_agreed);
    add_amendment_front(document, input);
    add_front(document, input);
    add_dot_plots(document, input, lots);
    add_items(document, input);
    add_conformity(document, input);
    add_lots(document, lots);
    add_curves(document, input);
    add_runs(document, input);
    add_laws(document, input);
    add_uncertainty(document, input);
    add_circumstances(document, input);
    add_flags(document, input);
    add_amendment(document, input);
    add_notes(document, input);
    add_pedigree(document, input);
    return document;
}

}  // namespace

Document compose(const ReportInput& input, std::span<const LotStatement> lots) {
    return input.record.terms.any() ? composed(under_other_terms(input), input, lots)
                                    : composed(input, input, lots);
}

Result<std::string> to_html(const ReportInput& input, std::span<const LotStatement> lots) {
    return html_of(compose(input, lots));
}

Result<std::string> to_pdf(const ReportInput& input, std::span<const LotStatement> lots, Paper paper) {
    const Document document = compose(input, lots);
    const auto pages = pdf_of(document, paper);
    if (!pages) return pages.error();
    return with_attachments(*pages, document, input.attachments);
}

Result<std::string> to_html(const ReportInput& input) {
    return to_html(input, std::span<const LotStatement>());
}

Result<std::string> to_pdf(const ReportInput& input, Paper paper) {
    return to_pdf(input, std::span<const LotStatement>(), paper);
}

}  // namespace ebbtide::report
