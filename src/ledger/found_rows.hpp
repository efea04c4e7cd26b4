#pragma once
// The tables that find() looks in: a pure function of an entry's body, so that they can be worked out again
// and compared.

#include <functional>
#include <nlohmann/json_fwd.hpp>
#include <string>
#include <string_view>
#include <vector>

#include "ledger/entries.hpp"

namespace ebbtide::ledger {

struct FoundRow {
    std::string table;  ///< "found_order", "found_run" and so on
    std::vector<Cell> cells;

    bool operator==(const FoundRow&) const = default;
};

/// Rows of a standing entry; none for kinds that are not searched. Error: the body lacks what its kind must
/// have, or has it in another type.
[[nodiscard]] Result<std::vector<FoundRow>> found_rows(const Entry& entry, const nlohmann::json& body);

/// Those of them that a ledger of this schema has tables for.
[[nodiscard]] Result<std::vector<FoundRow>> found_rows_in(Database& database, const Entry& entry,
                                                          const nlohmann::json& body);

/// What a record of a bench check is called: "BENCH/opening-2026-10-06T091503Z", from the name of its file.
[[nodiscard]] std::string check_id(std::string_view bench, std::string_view file);

/// Rows of one entry; the trend follows. So it does where they go.
[[nodiscard]] Result<Done> add_found_rows(Database& database, const std::vector<FoundRow>& rows);
[[nodiscard]] Result<Done> remove_found_rows(Database& database, std::int64_t number);
/// The rows that are there for an entry, in the order of found_rows().
[[nodiscard]] Result<std::vector<FoundRow>> read_found_rows(Database& database, std::int64_t number);
/// How many rows there are in all.
[[nodiscard]] Result<std::int64_t> count_found_rows(Database& database);

/// Empties the tables and works them out anew, within a Writing. Error: a body that cannot be read.
[[nodiscard]] Result<Done> rebuild_found_rows(Database& database);

/// Works out which bench checks every statement rests on, within a Writing: schema 3 brought that table.
[[nodiscard]] Result<Done> fill_order_checks(Database& database);

/// Hands out the newest revision of every statement, run, transcript and bench check that is not voided.
[[nodiscard]] Result<Done> each_searched(Database& database,
                                         const std::function<Result<Done>(const Entry&)>& entry);

}  // namespace ebbtide::ledger
