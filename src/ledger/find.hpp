#pragma once
// Orders by what is asked for: any combination of material, lot, customer, method, statement, dates, bench,
// certificate, bench check.

#include <initializer_list>
#include <nlohmann/json_fwd.hpp>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "basis/instant.hpp"
#include "ledger/database.hpp"

namespace ebbtide::ledger {

/// What is absent or empty is not asked. Texts are found within the column, the letters A to Z without case,
/// but for `statement`, which is the whole word.
struct Query {
    std::string order, customer, material, lot, method, specification, bench;
    std::string certificate;       ///< of any calibration of the bench that the order cites
    std::string check;             ///< id of any bench check or override that the order rests on
    std::string statement;         ///< "pass", "conditional pass", "conditional fail", "fail", "void"
    std::optional<Date> from, to;  ///< tested on any day of these
};

struct FoundItem {
    std::string item, material, lot;
};

/// One level of a run.
struct FoundLevel {
    std::string run, item, specimen, face, conditions, polarity;
    std::int64_t replicate = 0;
    std::optional<double> level;  ///< nothing for a run without figures
    std::string level_kind, status;
    std::optional<double> decay_s, u_decay_s, at_least_s, at_most_s;
    bool counts = false;
};

struct FoundOrder {
    std::int64_t number = 0;
    std::string order;
    std::int64_t revision = 0;  ///< the order's own
    std::string customer, method, method_edition, specification, specification_edition, bench, bench_revision;
    std::string statement, tested_from, tested_to;
    std::string issued;  ///< empty: not yet
    std::int64_t runs = 0;
    std::vector<FoundItem> items;  ///< all of the order's, whichever of them was asked for
};

/// Orders that answer all that is asked, the newest tests first, no more than `at_most`. Errors: `statement`
/// is none of the five; an older ledger that is only read does not list bench checks.
[[nodiscard]] Result<std::vector<FoundOrder>> find(Database& database, const Query& query,
                                                   std::optional<std::size_t> at_most = {});
/// How many there are. Errors: as find().
[[nodiscard]] Result<std::size_t> count(Database& database, const Query& query);

/// What is asked that entries of another kind do not have: dates and the options `has` are theirs. `kind` is
/// "a bench check", found by `option`. The error names the first that is asked in vain.
[[nodiscard]] std::optional<Error> asked_in_vain(const Query& query,
                                                 std::initializer_list<std::string_view> has,
                                                 std::string_view kind, std::string_view option);

/// The decay times of an order, run by run.
[[nodiscard]] Result<std::vector<FoundLevel>> levels_of(Database& database, const std::string& order);

/// ebbtide.ledger-find/1, docs/formats/ledger.md.
[[nodiscard]] Result<nlohmann::json> json_of(Database& database, const std::vector<FoundOrder>& found);

}  // namespace ebbtide::ledger
