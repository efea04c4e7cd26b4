#include "ledger/database.hpp"

#include <fcntl.h>
#include <fmt/format.h>
#include <sqlite3.h>
#include <unistd.h>

#include <filesystem>
#include <unordered_map>

namespace ebbtide::ledger {
namespace {

/// Pages that the write-ahead log holds before it is taken over into the file: 32 MiB. A run writes a
/// dozen and a half, so with SQLite's usual 1000 more than one write in a hundred would wait for that.
constexpr int pages_of_log = 4096;

sqlite3_stmt* statement_of(void* pointer) {
    return static_cast<sqlite3_stmt*>(pointer);
}

Error error_of(int code, const std::string& message, const std::string& path) {
    const auto cannot = [&](std::string what, std::string remedy) {
        return Error{Fault::unreadable, std::move(what), path, std::move(remedy)};
    };
    if (code == SQLITE_READONLY_DBMOVED)
        return cannot("was moved or replaced while it was open", "Begin again with the file where it is now");
    switch (code & 0xff) {
        case SQLITE_FULL:
            return cannot("the disk is full; nothing of this was written",
                          "Make room on the disk, then do it again");
        case SQLITE_READONLY:
        case SQLITE_PERM:
        case SQLITE_AUTH:
            return cannot("is read-only",
                          "Get the permission to write the file and its folder, or use another ledger");
        case SQLITE_BUSY:
        case SQLITE_LOCKED:
            return cannot("another program is writing to it", "Wait until that is done, then do it again");
        case SQLITE_CORRUPT:
            return cannot("is damaged: " + message,
                          "Keep the file as it is, run 'ebbtide ledger check', and restore the last backup");
        case SQLITE_NOTADB:
            return {Fault::bad_input, "is not a ledger", path,
                    "Name the file that 'ebbtide ledger init' made"};
        case SQLITE_CANTOPEN:
            return cannot(
                "cannot be opened",
                "Check the name and the permission to read it; 'ebbtide ledger init' makes a new one");
        case SQLITE_IOERR:
            return cannot("the disk does not take or give it: " + message,
                          "Check that the disk is there, sound, and not full or over its quota");
        case SQLITE_TOOBIG:
            return {Fault::bad_input, "a text or file is too large for it", path,
                    "At most 512 MiB are kept in one piece"};
        case SQLITE_CONSTRAINT:
            return {Fault::inconsistent, "refuses what does not append to it: " + message, path,
                    "Write to it with this program only"};
        default:
            return {Fault::internal, "the database answers: " + message, path, ""};
    }
}

/// SQLite would quietly open for reading what it may not write, and needs room beside the file.
bool writable(const std::string& file) {
    const std::string folder = std::filesystem::path(file).parent_path().string();
    return ::faccessat(AT_FDCWD, file.c_str(), W_OK, AT_EACCESS) == 0 &&
           ::faccessat(AT_FDCWD, folder.c_str(), W_OK, AT_EACCESS) == 0;
}

/// "file:" address of a path, for a medium that never changes.
std::string unchanging(const std::string& path) {
    std::string address = "file:";
    for (const char c : path) {
        const bool plain = (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9') ||
                           c == '/' || c == '.' || c == '-' || c == '_';
        address += plain ? std::string(1, c) : fmt::format("%{:02x}", static_cast<unsigned char>(c));
    }
    return address + "?immutable=1";
}

}  // namespace

std::int64_t Row::integer(int column) const {
    return sqlite3_column_int64(statement_of(statement_), column);
}
std::optional<double> Row::real(int column) const {
    if (is_null(column)) return {};
    return sqlite3_column_double(statement_of(statement_), column);
}
std::string Row::text(int column) const {
    sqlite3_stmt* statement = statement_of(statement_);
    const void* bytes = sqlite3_column_blob(statement, column);
    const int count = sqlite3_column_bytes(statement, column);
    return bytes ? std::string(static_cast<const char*>(bytes), static_cast<std::size_t>(count))
                 : std::string();
}
Cell Row::cell(int column) const {
    switch (sqlite3_column_type(statement_of(statement_), column)) {
        case SQLITE_INTEGER:
            return integer(column);
        case SQLITE_FLOAT:
            return *real(column);
        case SQLITE_NULL:
            return {};
        default:
            return text(column);
    }
}
bool Row::is_null(int column) const {
    return sqlite3_column_type(statement_of(statement_), column) == SQLITE_NULL;
}

struct Database::State {
    std::string path;
    sqlite3* handle = nullptr;
    std::unordered_map<std::string, sqlite3_stmt*> prepared;  ///< those not in use

    explicit State(std::string name) : path(std::move(name)) {}
    ~State() {
        for (const auto& [sql, statement] : prepared) sqlite3_finalize(statement);
        sqlite3_close_v2(handle);
    }
    State(const State&) = delete;
    State& operator=(const State&) = delete;

    [[nodiscard]] Error fault() const {
        return error_of(sqlite3_extended_errcode(handle), sqlite3_errmsg(handle), path);
    }
    [[nodiscard]] std::optional<Error> open(const std::string& name, int flags, Span wait) {
        sqlite3_close_v2(handle);
        handle = nullptr;
        const int code = sqlite3_open_v2(name.c_str(), &handle, flags | SQLITE_OPEN_NOMUTEX, nullptr);
        if (!handle) throw std::bad_alloc();
        sqlite3_extended_result_codes(handle, 1);
        if (code != SQLITE_OK) return fault();
        sqlite3_busy_timeout(handle, static_cast<int>(wait.ns / 1'000'000));
        return {};
    }
};

namespace {

/// A prepared statement on loan; goes back clean.
class Loan {
  public:
    using Shelf = std::unordered_map<std::string, sqlite3_stmt*>;
    Loan(sqlite3* handle, Shelf& shelf, const std::string& sql) : shelf_(shelf), sql_(sql) {
        if (auto found = shelf.extract(sql))
            statement_ = found.mapped();
        else
            sqlite3_prepare_v3(handle, sql.c_str(), -1, SQLITE_PREPARE_PERSISTENT, &statement_, nullptr);
    }
    ~Loan() {
        if (!statement_) return;
        sqlite3_reset(statement_);
        sqlite3_clear_bindings(statement_);
        // Within a query that runs the same one, there may be one on the shelf already.
        if (!shelf_.emplace(sql_, statement_).second) sqlite3_finalize(statement_);
    }
    Loan(const Loan&) = delete;
    Loan& operator=(const Loan&) = delete;
    [[nodiscard]] sqlite3_stmt* get() const { return statement_; }

  private:
    Shelf& shelf_;
    std::string sql_;
    sqlite3_stmt* statement_ = nullptr;
};

int bind(sqlite3_stmt* statement, int index, const Value& value) {
    if (const auto* integer = std::get_if<std::int64_t>(&value))
        return sqlite3_bind_int64(statement, index, *integer);
    if (const auto* real = std::get_if<double>(&value)) return sqlite3_bind_double(statement, index, *real);
    // A null pointer would be stored as NULL, which an empty text is not.
    if (const auto* text = std::get_if<std::string_view>(&value))
        return sqlite3_bind_text64(statement, index, text->empty() ? "" : text->data(), text->size(),
                                   SQLITE_STATIC, SQLITE_UTF8);
    if (const auto* blob = std::get_if<Blob>(&value))
        return sqlite3_bind_blob64(statement, index, blob->bytes.empty() ? "" : blob->bytes.data(),
                                   blob->bytes.size(), SQLITE_STATIC);
    return sqlite3_bind_null(statement, index);
}

}  // namespace

Database::Database(std::unique_ptr<State> state) : state_(std::move(state)) {}
Database::~Database() = default;
Database::Database(Database&&) noexcept = default;
Database& Database::operator=(Database&&) noexcept = default;

Result<Database> Database::open(const std::string& path, Access access, Span wait) {
    // An empty name and ":memory:" mean something else to SQLite than a file.
    const std::string file = path.empty() ? "" : std::filesystem::absolute(path).string();
    std::error_code none;
    if (!std::filesystem::is_regular_file(file, none)) return error_of(SQLITE_CANTOPEN, "", path);
    // A reader that may write nothing could not clear away the files beside the ledger when it is done.
    const bool may_write = writable(file);
    if (access == Access::write && !may_write) return error_of(SQLITE_READONLY, "", path);
    auto state = std::make_unique<State>(path);
    if (auto fault = state->open(file, may_write ? SQLITE_OPEN_READWRITE : SQLITE_OPEN_READONLY, wait))
        return *fault;
    Database database(std::move(state));
    const std::string settings = fmt::format(
        "PRAGMA trusted_schema = OFF; PRAGMA cell_size_check = ON; PRAGMA recursive_triggers = ON; "
        "PRAGMA synchronous = FULL; PRAGMA query_only = {}; SELECT count(*) FROM sqlite_schema",
        access == Access::read ? "ON" : "OFF");
    auto ready = database.script(settings);
    if (!ready && !may_write && !std::filesystem::exists(file + "-wal", none)) {
        // Where nothing can be written there is no place for the files beside it, and nobody who writes.
        if (auto fault =
                database.state_->open(unchanging(file), SQLITE_OPEN_READONLY | SQLITE_OPEN_URI, wait))
            return *fault;
        ready = database.script(settings);
    }
    if (!ready) return ready.error();
    return database;
}

Result<Database> Database::create(const std::string& path) {
    const std::string file = path.empty() ? "" : std::filesystem::absolute(path).string();
    std::error_code none;
    const bool there = std::filesystem::exists(std::filesystem::symlink_status(file, none));
    if (file.empty() || (there && (!std::filesystem::is_regular_file(file, none) ||
                                   std::filesystem::file_size(file, none) > 0)))
        return Error{Fault::bad_input, "is there already", path,
                     "Name a new file: nothing that is kept is overwritten"};
    auto state = std::make_unique<State>(path);
    if (auto fault = state->open(file, SQLITE_OPEN_READWRITE | SQLITE_OPEN_CREATE, usual_wait)) return *fault;
    Database database(std::move(state));
    const auto ready = database.script(
        fmt::format("PRAGMA page_size = 8192; PRAGMA encoding = 'UTF-8'; PRAGMA journal_mode = WAL; "
                    "PRAGMA synchronous = FULL; PRAGMA wal_autocheckpoint = {}; PRAGMA trusted_schema = OFF; "
                    "PRAGMA recursive_triggers = ON",
                    pages_of_log));
    if (!ready) return ready.error();
    return database;
}

Result<Database> Database::in_memory() {
    auto state = std::make_unique<State>("memory");
    if (auto fault = state->open(":memory:", SQLITE_OPEN_READWRITE, usual_wait)) return *fault;
    return Database(std::move(state));
}

Result<Done> Database::each(const std::string& sql, const std::vector<Value>& values, const EachRow& row) {
    const Loan loan(state_->handle, state_->prepared, sql);
    if (!loan.get()) return state_->fault();
    int index = 0;
    for (const Value& value : values)
        if (bind(loan.get(), ++index, value) != SQLITE_OK) return state_->fault();
    for (;;) {
        const int code = sqlite3_step(loan.get());
        if (code == SQLITE_DONE) return Done{};
        if (code != SQLITE_ROW) return state_->fault();
        auto done = row(Row(loan.get()));
        if (!done) return done;
    }
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
    if (sqlite3_exec(state_->handle, sql.c_str(), nullptr, nullptr, nullptr) != SQLITE_OK)
        return state_->fault();
    return Done{};
}

Result<Done> Database::copy_to(const std::string& path) {
    State copy(path);
    if (auto fault = copy.open(std::filesystem::absolute(path).string(),
                               SQLITE_OPEN_READWRITE | SQLITE_OPEN_CREATE, usual_wait))
        return *fault;
    sqlite3_backup* backup = sqlite3_backup_init(copy.handle, "main", state_->handle, "main");
    if (!backup) return copy.fault();
    const int code = sqlite3_backup_step(backup, -1);  // at once: one consistent state
    const int finished = sqlite3_backup_finish(backup);
    if (code != SQLITE_DONE) return error_of(code, sqlite3_errstr(code), path);
    if (finished != SQLITE_OK) return copy.fault();
    return Done{};
}

bool Database::writing() const {
    return sqlite3_get_autocommit(state_->handle) == 0;
}
const std::string& Database::path() const {
    return state_->path;
}

std::optional<Error> Database::moved() const {
    int moved = 0;
    sqlite3_file_control(state_->handle, "main", SQLITE_FCNTL_HAS_MOVED, &moved);
    if (moved == 0) return {};
    return error_of(SQLITE_READONLY_DBMOVED, "", path());
}

Result<Writing> Writing::begin(Database& database) {
    // Written elsewhere than where the file lies now, it would be lost without a word.
    if (auto error = database.moved()) return *error;
    auto begun = database.run("BEGIN IMMEDIATE");
    if (!begun) return begun.error();
    return Writing(database);
}

Writing::~Writing() {
    // SQLite may have given up the transaction by itself, on a full disk for example.
    if (database_ && database_->writing()) (void)database_->run("ROLLBACK").ok();
}

Result<Done> Writing::commit() {
    if (auto error = database_->moved()) return *error;
    auto done = database_->run("COMMIT");
    if (done) database_ = nullptr;
    return done;
}

Result<Snapshot> Snapshot::begin(Database& database) {
    auto begun = database.run("BEGIN");
    if (!begun) return begun.error();
    return Snapshot(database);
}

Snapshot::~Snapshot() {
    if (database_) (void)database_->run("ROLLBACK").ok();
}

}  // namespace ebbtide::ledger
