#include <fmt/format.h>

#include "cli/clock.hpp"
#include "cli/commands.hpp"
#include "cli/print.hpp"
#include "cli/report_file.hpp"
#include "ledger/migrations.hpp"
#include "record/json.hpp"
#include "report/validation_report.hpp"
#include "work/ledger_validation.hpp"
#include "work/validate.hpp"

namespace ebbtide::cli {
namespace {

using validation::Checked;
using validation::Validation;

std::string validation_text(const Validation& validation) {
    const validation::Computer& computer = validation.computer;
    std::string text = fmt::format("{} on {}, {} ({})\n{}\n\n", computer.program, computer.name,
                                   computer.processor, computer.vector_target, computer.operating_system);
    for (std::size_t i = 0; i < validation.checked.size();) {
        const std::string& subject = validation.checked[i].subject;
        std::size_t count = 0;
        std::string differing;
        for (; i < validation.checked.size() && validation.checked[i].subject == subject; ++i, ++count) {
            const Checked& one = validation.checked[i];
            if (one.agrees) continue;
            differing +=
                "    " +
                wrapped(fmt::format("differs: {} ({})", validation::difference_in_words(one), one.source),
                        screen - 4, 8) +
                "\n";
        }
        text += fmt::format("{:>4} {}{}\n{}", count, subject, differing.empty() ? "" : ":", differing);
    }
    return text +
           (validation.all_agree()
                ? fmt::format("\nall {} checks agree\n", validation.checked.size())
                : fmt::format(
                      "\n{} of {} checks do not agree: use no results from this computer until the cause "
                      "is known\n",
                      validation.disagreeing(), validation.checked.size()));
}

/// The dated report into the ledger, as PDF.
Result<Done> keep_report(const Validation& validation, const std::string& attached,
                         const ValidateOptions& options) {
    const auto pdf =
        report::to_pdf(validation, attached, options.letter ? report::Paper::letter : report::Paper::a4);
    if (!pdf) return pdf.error();
    auto database = ledger::open_ledger(options.ledger, ledger::Database::Access::write);
    if (!database) return database.error();
    const auto kept = work::keep_validation(*database, validation, *pdf, options.who, time_of_writing());
    if (!kept) return kept.error();
    tell(fmt::format("{}: {} kept, head {}\n", options.ledger, kept->id, kept->head.sha256));
    return Done{};
}

}  // namespace

int validate(const ValidateOptions& options) {
    if (!options.output.empty())
        if (const auto fault = fault_of_ending(options.output)) return complain(*fault);
    if (!options.ledger.empty())
        if (const auto opened = ledger::open_ledger(options.ledger, ledger::Database::Access::write); !opened)
            return complain(opened.error());
    return show(work::validate(time_of_making()), options);
}

int show(const Validation& validation, const ValidateOptions& options) {
    const std::string json = record::canonical_text(work::json_of(validation));
    if (!options.output.empty()) {
        const bool pdf = options.output.ends_with(".pdf");
        const Result<std::string> bytes =
            pdf ? report::to_pdf(validation, json, options.letter ? report::Paper::letter : report::Paper::a4)
                : report::to_html(validation);
        if (!bytes) return complain(bytes.error());
        if (const auto written = write_file(options.output, *bytes); !written)
            return complain(written.error());
    }
    if (!options.ledger.empty())
        if (const auto kept = keep_report(validation, json, options); !kept) return complain(kept.error());
    fmt::print("{}", options.json ? json : validation_text(validation));
    if (!options.output.empty() && !options.json) fmt::print("{}\n", options.output);
    return validation.all_agree() ? ok : differs;
}

}  // namespace ebbtide::cli
