#include "ledger/database.hpp"

#include "ledger/sqlite_store.hpp"

namespace ebbtide::ledger {
namespace {

Result<Database> database_on(Result<std::unique_ptr<Store>> store) {
    if (!store) return store.error();
    return Database(std::move(store).value());
}

}  // namespace

Result<Database> Database::open(const std::string& path, Access access, Span wait) {
    return database_on(open_sqlite(path, access == Access::write, wait));
}

Result<Database> Database::create(const std::string& path) {
    return database_on(create_sqlite(path));
}

Result<Database> Database::in_memory() {
    return database_on(sqlite_in_memory());
}

Result<Done> Database::each(const std::string& sql, const std::vector<Value>& values, const EachRow& row) {
    return store_->each(sql, values, row);
}

Result<Done> Database::run(const std::string& sql, const std::vector<Value>& values) {
    return each(sql, values, [](const Row&) { return Done{}; });
}

Result<std::optional<std::int64_t>> Database::number(const std::string& sql,
                                                     const std::vector<Value>& values) {
    std::optional<std::int64_t> found;
    const auto done = each(sql, values, [&](const Row& row) -> Result<Done> {
        if (!found && !row.is_null(0)) found = row.integer(0);
        return Done{};
    });
    if (!done) return done.error();
    return found;
}

Result<std::optional<std::string>> Database::text(const std::string& sql, const std::vector<Value>& values) {
    std::optional<std::string> found;
    const auto done = each(sql, values, [&](const Row& row) -> Result<Done> {
        if (!found && !row.is_null(0)) found = row.text(0);
        return Done{};
    });
    if (!done) return done.error();
    return found;
}

Result<Done> Database::script(const std::string& sql) {
    return store_->script(sql);
}

Result<Writing> Writing::begin(Database& database) {
    auto begun = database.store_->begin_writing();
    if (!begun) return begun.error();
    return Writing(database);
}

Writing::~Writing() {
    // A database may have given up the transaction by itself, on a full disk for example.
    if (database_ && database_->writing()) database_->store_->roll_back();
}

Result<Done> Writing::commit() {
    auto done = database_->store_->commit();
    if (done) database_ = nullptr;
    return done;
}

Result<Snapshot> Snapshot::begin(Database& database) {
    auto begun = database.store_->begin_reading();
    if (!begun) return begun.error();
    return Snapshot(database);
}

Snapshot::~Snapshot() {
    if (database_) database_->store_->roll_back();
}

}  // namespace ebbtide::ledger
