// The comparison of two judgements for the terminal.

#include <fmt/format.h>

#include "cli/print.hpp"

namespace ebbtide::cli {
namespace {

constexpr std::size_t name_columns = 38, outcome_columns = 20;

std::string outcome_text(const std::optional<plan::Conformity>& outcome, const std::string& result) {
    if (!outcome) return "not asked";
    return shape_and_word(*outcome) + (result.empty() ? "" : ", " + result);
}

std::string row(const std::string& name, const std::string& agreed, const std::string& instead) {
    // A long name has a line of its own; the outcomes stand below it.
    const std::string first = padded(name, name_columns);
    const std::string begin = first.size() > 2 * name_columns || padded(name, name_columns + 1) == name
                                  ? name + "\n" + std::string(name_columns, ' ')
                                  : first;
    return fmt::format("  {} {} {}\n", begin, padded(agreed, outcome_columns), instead);
}

std::string levels_text(const std::vector<plan::Level>& levels) {
    std::string text;
    for (const plan::Level& level : levels) text += (text.empty() ? "" : ", ") + level.label();
    return text;
}

}  // namespace

std::string text_of(const work::Rejudged& rejudged) {
    const record::OrderRecord& record = rejudged.judged.record;
    const plan::Terms& terms = record.terms;
    std::string out = "judged under other terms than the order agreed:\n";
    if (!terms.specification.empty())
        out += fmt::format("  specification  {}, edition {}\n     instead of  {}, edition {}\n",
                           record.specification.id, record.specification.edition,
                           rejudged.agreed_specification.file, rejudged.agreed_specification.edition);
    if (!terms.levels.empty())
        out += fmt::format("  levels         {}\n     instead of  each requirement's own\n",
                           levels_text(terms.levels));
    if (terms.decision_rule)
        out += fmt::format("  decision rule  {}\n     instead of  {}\n", plan::in_words(*terms.decision_rule),
                           plan::in_words(record.order.decision_rule));
    out += "\n" + row("", "as agreed", "under these terms");
    for (const work::Compared& line : rejudged.compared)
        out += row(line.group.empty() ? line.of : "  " + line.group,
                   outcome_text(line.agreed, line.agreed_result),
                   outcome_text(line.instead, line.instead_result));
    return out + "\n" + text_of(record);
}

}  // namespace ebbtide::cli
