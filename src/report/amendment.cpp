// That a report replaces another one: what it replaces, why, and what changed.

#include <fmt/format.h>

#include "report/chapters.hpp"
#include "report/words.hpp"

namespace ebbtide::report {
namespace {

/// On the first page; all of them stand in the chapter.
constexpr std::size_t found_on_first_page = 4;

}  // namespace

void add_amendment_front(Document& document, const ReportInput& input) {
    const record::OrderRecord& record = input.record;
    if (!record.order.amendment) return;
    const plan::Amendment& amendment = *record.order.amendment;
    Facts facts;
    const std::string day =
        amendment.replaces_issued ? iso_text(*amendment.replaces_issued) : std::string(not_stated);
    facts.rows = {
        {"Amendment",
         fmt::format("This report replaces report {}, revision {}, issued {}, which is no longer valid.",
                     record.order.id, amendment.replaces_revision, day),
         "7.8.8.3"},
        {"Reason", amendment.reason, "7.8.8.1"}};
    std::string changes;
    for (const std::string& change : amendment.changes) changes += (changes.empty() ? "" : "\n") + change;
    facts.rows.push_back({"What changed", or_not_stated(changes), "7.8.8.1"});
    std::string found;
    for (std::size_t i = 0; i < std::min(record.amended.size(), found_on_first_page); ++i)
        found += (i == 0 ? "" : "\n") + record.amended[i];
    if (record.amended.size() > found_on_first_page)
        found += fmt::format("\n{} more lines under Amendment", record.amended.size() - found_on_first_page);
    if (record.amended.empty())
        found = amendment.replaced_report.empty() ? "not compared: the replaced report was not at hand"
                                                  : "not compared: judged under other terms";
    facts.rows.push_back({"Found by comparing", found, "7.8.8.1"});
    document.blocks.emplace_back(std::move(facts));
}

void add_amendment(Document& document, const ReportInput& input) {
    const record::OrderRecord& record = input.record;
    if (!record.order.amendment || record.amended.size() <= found_on_first_page) return;
    auto& blocks = document.blocks;
    blocks.emplace_back(Heading{"Amendment"});
    blocks.emplace_back(Paragraph{"What the laboratory states:", Paragraph::Look::body, ""});
    blocks.emplace_back(Bullets{record.order.amendment->changes, "7.8.8.1"});
    blocks.emplace_back(Paragraph{
        "What differs from the replaced report, found by comparing the two records:", Paragraph::Look::body,
        ""});
    blocks.emplace_back(Bullets{record.amended, "7.8.8.1"});
}

}  // namespace ebbtide::report
