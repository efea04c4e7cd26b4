#include "ledger/checks.hpp"

#include <nlohmann/json.hpp>

#include "ledger/migrations.hpp"

namespace ebbtide::ledger {
namespace {

Result<std::vector<Entry>> kept_checks(Database& database, const std::string& where,
                                       const std::vector<Value>& values) {
    const auto schema = schema_of(database);
    if (!schema) return schema.error();
    if (*schema < 3) return std::vector<Entry>();  // had none
    return read_entries(
        database,
        "FROM found_check c JOIN entry e ON e.number = c.number JOIN link l ON l.number = e.number WHERE " +
            where,
        values);
}

std::optional<Entry> first_of(std::vector<Entry>& entries) {
    return entries.empty() ? std::optional<Entry>() : std::optional(std::move(entries.front()));
}

}  // namespace

Result<std::vector<Entry>> find_checks(Database& database, const Query& query) {
    if (const auto fault = asked_in_vain(query, {"--check", "--bench"}, "a bench check", "--checks"))
        return *fault;
    constexpr std::int64_t day_ns = 86'400'000'000'000;
    const Value from = query.from ? Value(start_of(*query.from).ns) : Value(nullptr),
                to = query.to ? Value(start_of(*query.to).ns + day_ns) : Value(nullptr);
    return kept_checks(database,
                       "(?1 = '' OR instr(lower(c.check_id), lower(?1)) > 0) AND "
                       "(?2 = '' OR instr(lower(c.bench), lower(?2)) > 0) AND "
                       "(?3 IS NULL OR c.ended_ns >= ?3) AND (?4 IS NULL OR c.ended_ns < ?4) "
                       "ORDER BY c.ended_ns DESC, c.number DESC",
                       {query.check, query.bench, from, to});
}

nlohmann::json json_of_checks(const std::vector<Entry>& checks) {
    nlohmann::json all = nlohmann::json::array();
    for (const Entry& entry : checks)
        all.push_back({{"check", entry.id},
                       {"revision", entry.revision},
                       {"number", entry.number},
                       {"at", iso_text(entry.at)},
                       {"who", entry.who},
                       {"why", entry.why},
                       {"record", nlohmann::json::parse(entry.body, nullptr, false)}});
    return {{"schema", "ebbtide.ledger-checks/1"}, {"checks", std::move(all)}};
}

Result<ChecksAround> checks_around(Database& database, const std::string& bench,
                                   const std::string& bench_revision, Instant at) {
    const auto first = [&](const std::string& where, std::int64_t since_ns) -> Result<std::optional<Entry>> {
        auto found = kept_checks(database, "c.bench = ?1 AND c.bench_revision = ?2 AND " + where,
                                 {bench, bench_revision, at.ns, since_ns});
        if (!found) return found.error();
        return first_of(*found);
    };
    const auto before = first(
        "c.kind <> 'override' AND c.ended_ns <= ?3 AND c.ended_ns >= ?4 ORDER BY c.ended_ns DESC, c.number "
        "DESC LIMIT 1",
        INT64_MIN);
    if (!before) return before.error();
    std::int64_t since_ns = INT64_MIN;
    if (*before) {
        const auto ended =
            database.number("SELECT ended_ns FROM found_check WHERE number = ?", {(*before)->number});
        if (!ended) return ended.error();
        since_ns = ended->value_or(since_ns);
    }
    const auto override_ = first(
        "c.kind = 'override' AND c.ended_ns <= ?3 AND c.ended_ns >= ?4 ORDER BY c.ended_ns DESC, c.number "
        "DESC LIMIT 1",
        since_ns);
    if (!override_) return override_.error();
    const auto after = first(
        "c.kind <> 'override' AND c.ended_ns > ?3 AND c.ended_ns > ?4 ORDER BY c.ended_ns, c.number LIMIT 1",
        INT64_MIN);
    if (!after) return after.error();
    return ChecksAround{*before, *override_, *after};
}

}  // namespace ebbtide::ledger
