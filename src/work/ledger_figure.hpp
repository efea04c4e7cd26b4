#pragma once
// Figures of a ledger by the names that people have for them: an order, one of its runs, one of its results.

#include <nlohmann/json.hpp>
#include <optional>
#include <string>
#include <vector>

#include "ledger/entries.hpp"

namespace ebbtide::work {

/// A run under its names.
struct NamedRun {
    std::string entry;  ///< id of its entry, "ORDER/RUN"
    std::string label;  ///< place in the plan: "W1 front dry-1 + 1"
};

/// Place of the run that is named by its id, by the first 4 or more characters of it, or by its label;
/// nothing when there is none. Error: several answer to the name.
[[nodiscard]] Result<std::optional<std::size_t>> place_of_run(const std::vector<NamedRun>& runs,
                                                              const std::string& order,
                                                              const std::string& name);

/// What a name points at, in one revision of a statement.
struct FigurePlace {
    enum class Of { statement, result, run };
    Of of = Of::statement;
    ledger::Entry statement;                   ///< not a voided one
    nlohmann::json body;                       ///< of it
    nlohmann::json record;                     ///< ebbtide.record/1 that it rests on
    std::size_t run = 0;                       ///< of a run: its place in the judgement
    std::size_t requirement = 0, finding = 0;  ///< of a result: their places there
};

struct FigureName {
    std::string figure;                    ///< "ORDER", "ORDER/RUN", "ORDER/REQUIREMENT"
    std::string group;                     ///< of a result, as the report has it: "warp, as received"
    std::optional<std::int64_t> revision;  ///< of the statement; absent: the newest that has the figure
};

/// Looks the figure up. Errors: no such order, revision, run, requirement or group; a name that several
/// answer to. Each says what there is.
[[nodiscard]] Result<FigurePlace> figure_place(ledger::Database& ledger, const FigureName& name);

}  // namespace ebbtide::work
