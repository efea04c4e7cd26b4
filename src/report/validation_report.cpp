#include "report/validation_report.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <span>

#include "basis/number_text.hpp"
#include "report/chapters.hpp"
#include "report/html_writer.hpp"
#include "report/pdf_attachments.hpp"
#include "report/pdf_writer.hpp"
#include "report/words.hpp"

namespace ebbtide::report {
namespace {

using validation::Checked;
using validation::Computer;
using validation::Validation;

constexpr std::size_t most_reasons = 12;

Facts facts_of(const Validation& validation) {
    const Computer& computer = validation.computer;
    Facts facts;
    facts.rows = {
        {"Made", iso_text(validation.made), "7.11.2"},
        {"Program", computer.program, "7.11.2"},
        {"Program file",
         computer.program_sha256.empty() ? "could not be read" : "SHA-256 " + computer.program_sha256, ""},
        {"Compiled by", computer.compiler, ""},
        {"Computer", computer.name, ""},
        {"Processor", or_not_stated(computer.processor), ""},
        {"Vector instructions", computer.vector_target, ""},
        {"Operating system", or_not_stated(computer.operating_system), ""}};
    return facts;
}

Statement statement_of(const Validation& validation) {
    const std::size_t count = validation.checked.size(), wrong = validation.disagreeing();
    if (validation.all_agree())
        return {plan::Conformity::pass,
                fmt::format(
                    "On this computer the program gives all {} figures known from outside, each within the "
                    "difference that is allowed for it.",
                    count),
                {},
                "all agree",
                "7.11.2"};
    Statement statement{
        plan::Conformity::fail,
        fmt::format("{} of {} checks do not agree. Use no results from this computer until the "
                    "cause is known, and ask which earlier ones it may have touched.",
                    wrong, count),
        {},
        "differs",
        "7.11.2"};
    for (const Checked& one : validation.checked) {
        if (one.agrees) continue;
        if (statement.reasons.size() == most_reasons) {
            statement.reasons.push_back("more of them stand below");
            break;
        }
        statement.reasons.push_back(validation::difference_in_words(one));
    }
    return statement;
}

/// Why more than the rounding of the printed figure is allowed: a letter each, in the order of the rows.
class Reasons {
  public:
    /// " a"; empty for the usual reason.
    std::string letter_of(const Checked& checked) {
        if (checked.because == validation::Allowed{}.because || is_word(checked)) return "";
        const auto known = std::ranges::find(reasons_, checked.because);
        const auto place = known - reasons_.begin();
        if (known == reasons_.end()) reasons_.push_back(checked.because);
        return std::string(" ") + static_cast<char>('a' + place);
    }
    static bool is_word(const Checked& checked) {
        return checked.fault.empty() && std::holds_alternative<std::string>(checked.ours);
    }
    [[nodiscard]] std::string text() const {
        std::string text = "Allowed is the rounding of the printed figure; words must be the same.";
        for (std::size_t i = 0; i < reasons_.size(); ++i)
            text += fmt::format("\n{}: {}.", static_cast<char>('a' + i), reasons_[i]);
        return text;
    }

  private:
    std::vector<std::string> reasons_;
};

std::string allowed_text(const Checked& checked, Reasons& reasons) {
    if (checked.allowed == 0 && (Reasons::is_word(checked) || !checked.fault.empty())) return "–";
    return fmt::format("{:.2g}{}", checked.allowed, reasons.letter_of(checked));
}

Table table_of(std::span<const Checked> checks, Reasons& reasons) {
    // A hash is broken into lines, other figures are not.
    const bool long_words =
        std::ranges::any_of(checks, [](const Checked& one) { return one.printed.size() > 32; });
    const Column::Kind figures = long_words ? Column::Kind::text : one_line;
    Table table;
    table.clause = "7.11.2";
    table.columns = {
        {"figure"},          {"source"}, {"printed", figures}, {"here", figures}, {"allowed", one_line},
        {"result", one_line}};
    for (const Checked& one : checks)
        table.rows.push_back({{one.name + (one.unit.empty() ? "" : ", in " + one.unit), {}, false, false},
                              {one.source, {}, true, false},
                              {one.printed, {}, false, false},
                              {one.fault.empty() ? validation::text_of_ours(one) : "–", {}, false, false},
                              {allowed_text(one, reasons), {}, true, false},
                              {one.agrees ? "agrees" : "differs", {}, false, !one.agrees}});
    return table;
}

/// The checks of one subject.
void add_subject(Document& document, std::span<const Checked> checks) {
    document.blocks.emplace_back(Heading{checks.front().subject});
    Reasons reasons;
    document.blocks.emplace_back(table_of(checks, reasons));
    document.blocks.emplace_back(Paragraph{reasons.text(), Paragraph::Look::note, "7.11.2"});
}

}  // namespace

Document compose(const Validation& validation) {
    Document document;
    document.title = "Validation of the program on this computer";
    document.laboratory = validation.computer.name;
    document.id_and_revision =
        fmt::format("Report of validation, {}, {}", validation.computer.program, iso_text(validation.made));
    document.page_notice =
        "Holds for this program file on this computer. To be made again after a change of either.";
    document.subject =
        validation.all_agree() ? "Software validation: all agree" : "Software validation: differs";
    document.program = validation.computer.program;
    document.made = validation.made;
    document.title_clause = document.id_clause = "7.11.2";

    document.blocks.emplace_back(statement_of(validation));
    document.blocks.emplace_back(facts_of(validation));
    document.blocks.emplace_back(Heading{"What this shows"});
    document.blocks.emplace_back(Bullets{
        {"The program that judges worked out published figures whose right values are known from outside, "
         "with the very code that makes reports. ISO/IEC 17025:2017 asks for this before software is used "
         "and after it was changed (7.11.2, from memory).",
         "It says nothing of the bench: sensor, recorder, clamps and air are proven by calibrations and by "
         "the bench's own checks. Nor does it say that a method suits a material.",
         "Sources that were not seen in the document itself are marked \"from memory\"."},
        "7.11.2"});
    std::span<const Checked> checks = validation.checked;
    while (!checks.empty()) {
        std::size_t count = 1;
        while (count < checks.size() && checks[count].subject == checks.front().subject) ++count;
        add_subject(document, checks.first(count));
        checks = checks.subspan(count);
    }
    return document;
}

std::string to_html(const Validation& validation) {
    return html_of(compose(validation));
}

Result<std::string> to_pdf(const Validation& validation, const std::string& json, Paper paper) {
    const Document document = compose(validation);
    const auto pages = pdf_of(document, paper);
    if (!pages) return pages.error();
    return with_attachments(
        *pages, document,
        {{"validation.json", "application/json", "Every check of this report, unrounded", json}});
}

}  // namespace ebbtide::report
