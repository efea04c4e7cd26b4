// That a report was made under other terms than its order agreed, and which.

#include <fmt/format.h>

#include "report/chapters.hpp"
#include "report/words.hpp"

namespace ebbtide::report {

void add_other_terms(Document& document, const ReportInput& input) {
    const record::OrderRecord& record = input.record;
    const plan::Terms& terms = record.terms;
    if (!terms.any()) return;
    Table table;
    table.title =
        "Judged under other terms than the order agreed: this is not the agreed statement of conformity";
    table.columns = {{"term"}, {"agreed"}, {"used instead"}};
    table.clause = "7.8.6.1";
    const auto row = [&](const char* term, const std::string& agreed, const std::string& used) {
        table.rows.push_back(
            {Cell{term, {}, false, true}, Cell{agreed, {}, false, false}, Cell{used, {}, false, false}});
    };
    if (!terms.specification.empty())
        row("Specification",
            fmt::format("{}, edition {}", record.order.specification.file,
                        record.order.specification.edition),
            fmt::format("{}, edition {}", record.specification.id, record.specification.edition));
    if (!terms.levels.empty()) {
        std::string levels;
        for (const plan::Level& level : terms.levels)
            levels += fmt::format("{}t({})", levels.empty() ? "" : ", ", level.label());
        row("Decay times", "to the level of each requirement", levels + " for every requirement");
    }
    if (terms.decision_rule)
        row("Decision rule", plan::in_words(record.order.decision_rule),
            plan::in_words(*terms.decision_rule));
    document.blocks.emplace_back(std::move(table));
    document.blocks.emplace_back(Paragraph{
        "The recordings are those of the order. This report replaces none, and nobody has authorised it.",
        Paragraph::Look::note, ""});
}

}  // namespace ebbtide::report
