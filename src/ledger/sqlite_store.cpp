#include "ledger/sqlite_store.hpp"

#include <fcntl.h>
#include <fmt/format.h>
#include <sqlite3.h>
#include <unistd.h>

#include <filesystem>
#include <unordered_map>

#include "ledger/database.hpp"
#include "ledger/gathered_writes.hpp"

namespace ebbtide::ledger {
namespace {

/// Pages that the write-ahead log holds before it is taken over into the file: 16 MiB. A run writes a
/// dozen and a half: with 4096 one write in 240 waits for that, with SQLite's usual 1000 one in 60.
constexpr int pages_of_log = 4096;

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
            return {Fault::internal, "the database answers: " + message, path,
                    "Do it again; where that fails too, run 'ebbtide ledger check'"};
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

class SqliteRow final : public Row {
  public:
    explicit SqliteRow(sqlite3_stmt* statement) : statement_(statement) {}
    [[nodiscard]] std::int64_t integer(int column) const override {
        return sqlite3_column_int64(statement_, column);
    }
    [[nodiscard]] std::optional<double> real(int column) const override {
        if (is_null(column)) return {};
        return sqlite3_column_double(statement_, column);
    }
    [[nodiscard]] std::string text(int column) const override {
        const void* bytes = sqlite3_column_blob(statement_, column);
        const int count = sqlite3_column_bytes(statement_, column);
        return bytes ? std::string(static_cast<const char*>(bytes), static_cast<std::size_t>(count))
                     : std::string();
    }
    [[nodiscard]] bool is_null(int column) const override {
        return sqlite3_column_type(statement_, column) == SQLITE_NULL;
    }
    [[nodiscard]] Cell cell(int column) const override {
        switch (sqlite3_column_type(statement_, column)) {
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

  private:
    sqlite3_stmt* statement_;
};

/// Prepared statements by their text: those not in use.
using Shelf = std::unordered_map<std::string, sqlite3_stmt*>;

/// A prepared statement on loan; goes back clean.
class Loan {
  public:
    Loan(sqlite3* handle, Shelf& shelf, const std::string& sql) : shelf_(shelf), taken_(shelf.extract(sql)) {
        if (taken_) return;
        sqlite3_stmt* statement = nullptr;
        sqlite3_prepare_v3(handle, sql.c_str(), -1, SQLITE_PREPARE_PERSISTENT, &statement, nullptr);
        if (statement) taken_ = shelf.extract(shelf.emplace(sql, statement).first);
    }
    ~Loan() {
        if (!taken_) return;
        sqlite3_reset(get());
        sqlite3_clear_bindings(get());
        // Within a query that runs the same one, there may be one on the shelf already.
        if (const auto back = shelf_.insert(std::move(taken_)); !back.inserted)
            sqlite3_finalize(back.node.mapped());
    }
    Loan(const Loan&) = delete;
    Loan& operator=(const Loan&) = delete;
    [[nodiscard]] sqlite3_stmt* get() const { return taken_ ? taken_.mapped() : nullptr; }

  private:
    Shelf& shelf_;
    Shelf::node_type taken_;
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

class SqliteStore final : public Store {
  public:
    explicit SqliteStore(std::string path) : path_(std::move(path)) {}
    ~SqliteStore() override {
        for (const auto& [sql, statement] : prepared_) sqlite3_finalize(statement);
        sqlite3_close_v2(handle_);
    }
    SqliteStore(const SqliteStore&) = delete;
    SqliteStore& operator=(const SqliteStore&) = delete;

    [[nodiscard]] std::optional<Error> open(const std::string& name, int flags, Span wait) {
        sqlite3_close_v2(handle_);
        handle_ = nullptr;
        const int code =
            sqlite3_open_v2(name.c_str(), &handle_, flags | SQLITE_OPEN_NOMUTEX, gathering_layer());
        if (!handle_) throw std::bad_alloc();
        sqlite3_extended_result_codes(handle_, 1);
        if (code != SQLITE_OK) return fault();
        sqlite3_busy_timeout(handle_, static_cast<int>(wait.ns / 1'000'000));
        return {};
    }

    Result<Done> each(const std::string& sql, const std::vector<Value>& values, const EachRow& row) override {
        const Loan loan(handle_, prepared_, sql);
        if (!loan.get()) return fault();
        int index = 0;
        for (const Value& value : values)
            if (bind(loan.get(), ++index, value) != SQLITE_OK) return fault();
        for (;;) {
            const int code = sqlite3_step(loan.get());
            if (code == SQLITE_DONE) return Done{};
            if (code != SQLITE_ROW) return fault();
            auto done = row(SqliteRow(loan.get()));
            if (!done) return done;
        }
    }
    Result<Done> script(const std::string& sql) override {
        if (sqlite3_exec(handle_, sql.c_str(), nullptr, nullptr, nullptr) != SQLITE_OK) return fault();
        return Done{};
    }

    Result<Done> begin_writing() override { return each("BEGIN IMMEDIATE", {}, no_row); }
    Result<Done> begin_reading() override { return each("BEGIN", {}, no_row); }
    Result<Done> commit() override {
        // Written elsewhere than where the file lies now, it would be lost without a word.
        if (auto error = moved()) return *error;
        return each("COMMIT", {}, no_row);
    }
    void roll_back() override { (void)each("ROLLBACK", {}, no_row).ok(); }
    [[nodiscard]] bool in_transaction() const override { return sqlite3_get_autocommit(handle_) == 0; }

    Result<Mark> mark() override {
        Mark mark;
        for (const auto& [pragma, into] : {std::pair{"PRAGMA application_id", &mark.application},
                                           std::pair{"PRAGMA user_version", &mark.schema}}) {
            const auto read = each(pragma, {}, [into = into](const Row& row) -> Result<Done> {
                *into = row.integer(0);
                return Done{};
            });
            if (!read) return read.error();
        }
        return mark;
    }
    Result<Done> set_mark(const Mark& mark) override {
        return script(fmt::format("PRAGMA application_id = {}; PRAGMA user_version = {}", mark.application,
                                  mark.schema));
    }
    Result<std::vector<std::string>> faults() override {
        std::vector<std::string> found;
        const auto read = each("PRAGMA integrity_check(100)", {}, [&](const Row& row) -> Result<Done> {
            if (std::string line = row.text(0); line != "ok") found.push_back(std::move(line));
            return Done{};
        });
        if (!read) return read.error();
        return found;
    }
    Result<std::map<std::string, std::string>> objects() override {
        std::map<std::string, std::string> found;
        const auto read = each("SELECT type || ' ' || name, sql FROM sqlite_schema WHERE sql IS NOT NULL", {},
                               [&](const Row& row) -> Result<Done> {
                                   found[row.text(0)] = row.text(1);
                                   return Done{};
                               });
        if (!read) return read.error();
        return found;
    }

    Result<Done> copy_to(const std::string& path) override {
        SqliteStore copy(path);
        if (auto fault = copy.open(std::filesystem::absolute(path).string(),
                                   SQLITE_OPEN_READWRITE | SQLITE_OPEN_CREATE, usual_wait))
            return *fault;
        sqlite3_backup* backup = sqlite3_backup_init(copy.handle_, "main", handle_, "main");
        if (!backup) return copy.fault();
        const int code = sqlite3_backup_step(backup, -1);  // at once: one consistent state
        const int finished = sqlite3_backup_finish(backup);
        if (code != SQLITE_DONE) return error_of(code, sqlite3_errstr(code), path);
        if (finished != SQLITE_OK) return copy.fault();
        return Done{};
    }
    [[nodiscard]] const std::string& name() const override { return path_; }

  private:
    static Result<Done> no_row(const Row&) { return Done{}; }
    [[nodiscard]] Error fault() const {
        return error_of(sqlite3_extended_errcode(handle_), sqlite3_errmsg(handle_), path_);
    }
    [[nodiscard]] std::optional<Error> moved() const {
        int moved = 0;
        sqlite3_file_control(handle_, "main", SQLITE_FCNTL_HAS_MOVED, &moved);
        if (moved == 0) return {};
        return error_of(SQLITE_READONLY_DBMOVED, "", path_);
    }

    std::string path_;
    sqlite3* handle_ = nullptr;
    Shelf prepared_;
};

}  // namespace

Result<std::unique_ptr<Store>> open_sqlite(const std::string& path, bool writes, Span wait) {
    // An empty name and ":memory:" mean something else to SQLite than a file.
    const std::string file = path.empty() ? "" : std::filesystem::absolute(path).string();
    std::error_code none;
    if (!std::filesystem::is_regular_file(file, none)) return error_of(SQLITE_CANTOPEN, "", path);
    // A reader that may write nothing could not clear away the files beside the ledger when it is done.
    const bool may_write = writable(file);
    if (writes && !may_write) return error_of(SQLITE_READONLY, "", path);
    auto store = std::make_unique<SqliteStore>(path);
    if (auto fault = store->open(file, may_write ? SQLITE_OPEN_READWRITE : SQLITE_OPEN_READONLY, wait))
        return *fault;
    const std::string settings = fmt::format(
        "PRAGMA trusted_schema = OFF; PRAGMA cell_size_check = ON; PRAGMA recursive_triggers = ON; "
        "PRAGMA synchronous = FULL; PRAGMA wal_autocheckpoint = {}; PRAGMA query_only = {}; "
        "SELECT count(*) FROM sqlite_schema",
        pages_of_log, writes ? "OFF" : "ON");
    auto ready = store->script(settings);
    if (!ready && !may_write && !std::filesystem::exists(file + "-wal", none)) {
        // Where nothing can be written there is no place for the files beside it, and nobody who writes.
        if (auto fault = store->open(unchanging(file), SQLITE_OPEN_READONLY | SQLITE_OPEN_URI, wait))
            return *fault;
        ready = store->script(settings);
    }
    if (!ready) return ready.error();
    return std::unique_ptr<Store>(std::move(store));
}

Result<std::unique_ptr<Store>> create_sqlite(const std::string& path) {
    const std::string file = path.empty() ? "" : std::filesystem::absolute(path).string();
    std::error_code none;
    const bool there = std::filesystem::exists(std::filesystem::symlink_status(file, none));
    if (file.empty() || (there && (!std::filesystem::is_regular_file(file, none) ||
                                   std::filesystem::file_size(file, none) > 0)))
        return Error{Fault::bad_input, "is there already", path,
                     "Name a new file: nothing that is kept is overwritten"};
    auto store = std::make_unique<SqliteStore>(path);
    if (auto fault = store->open(file, SQLITE_OPEN_READWRITE | SQLITE_OPEN_CREATE, usual_wait)) return *fault;
    const auto ready = store->script(
        fmt::format("PRAGMA page_size = 4096; PRAGMA encoding = 'UTF-8'; PRAGMA journal_mode = WAL; "
                    "PRAGMA synchronous = FULL; PRAGMA wal_autocheckpoint = {}; PRAGMA trusted_schema = OFF; "
                    "PRAGMA recursive_triggers = ON",
                    pages_of_log));
    if (!ready) return ready.error();
    return std::unique_ptr<Store>(std::move(store));
}

Result<std::unique_ptr<Store>> sqlite_in_memory() {
    auto store = std::make_unique<SqliteStore>("memory");
    if (auto fault = store->open(":memory:", SQLITE_OPEN_READWRITE, usual_wait)) return *fault;
    return std::unique_ptr<Store>(std::move(store));
}

}  // namespace ebbtide::ledger
