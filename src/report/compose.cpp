#include <fmt/format.h>

#include "report/chapters.hpp"
#include "report/html_writer.hpp"
#include "report/pdf_attachments.hpp"
#include "report/pdf_writer.hpp"

namespace ebbtide::report {

Document compose(const ReportInput& input) {
    const record::OrderRecord& record = input.record;
    const plan::Order& order = record.order;
    Document document;
    document.title = order.title.empty() ? "Test report" : "Test report: " + order.title;
    document.laboratory = order.laboratory.name;
    document.id_and_revision = fmt::format("Report {}, revision {}", order.id, order.revision);
    // What nobody has authorised or issued is no report yet; every page says so.
    if (order.authorised_by.empty() || !order.issued) document.id_and_revision += " (draft, not issued)";
    document.page_notice =
        "The results relate only to the items tested. Not to be reproduced except in full without the "
        "approval of the laboratory.";
    document.subject =
        fmt::format("Charge decay, {}: {}", order.id, plan::name_of(record.judgement.statement));
    document.program = "ebbtide " + record.engine_version;
    document.made = record.made;

    add_front(document, input);
    add_dot_plots(document, input);
    add_items(document, input);
    add_conformity(document, input);
    add_curves(document, input);
    add_runs(document, input);
    add_uncertainty(document, input);
    add_circumstances(document, input);
    add_flags(document, input);
    add_notes(document, input);
    add_pedigree(document, input);
    return document;
}

Result<std::string> to_html(const ReportInput& input) {
    return html_of(compose(input));
}

Result<std::string> to_pdf(const ReportInput& input, Paper paper) {
    const Document document = compose(input);
    const auto pages = pdf_of(document, paper);
    if (!pages) return pages.error();
    return with_attachments(*pages, document, input.attachments);
}

}  // namespace ebbtide::report
