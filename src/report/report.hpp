#pragma once
// The report: one document model, written as HTML and as PDF.

#include <map>
#include <string>
#include <vector>

#include "basis/result.hpp"
#include "record/order_record.hpp"

namespace ebbtide::report {

/// A run's curve for the plots, thinned so that its look does not change; volts after zero and sign, seconds
/// from the release.
struct PlotTrace {
    std::vector<double> time_s;
    std::vector<double> specimen_V;
    std::vector<double> electrode_V;  ///< empty when not recorded; same times
};

struct Attachment {
    std::string name;        ///< as in the record's inputs
    std::string media_type;  ///< "text/csv"
    std::string description;
    std::string bytes;
};

struct ReportInput {
    record::OrderRecord record;
    std::map<std::string, PlotTrace> traces;  ///< by run id
    std::vector<Attachment> attachments;      ///< record.json, the order's files, raw recordings
};

enum class Paper { a4, letter };

/// A self-contained HTML page (no outside addresses); the same input gives the same bytes.
[[nodiscard]] Result<std::string> to_html(const ReportInput& input);
/// A PDF with the attachments inside; the same input gives the same bytes on one Debian release.
[[nodiscard]] Result<std::string> to_pdf(const ReportInput& input, Paper paper = Paper::a4);
/// The attachments of a report written by to_pdf, as bytes. Error: not a PDF, or no attachments.
[[nodiscard]] Result<std::vector<Attachment>> attachments_of_pdf(const std::string& pdf_bytes);

}  // namespace ebbtide::report
