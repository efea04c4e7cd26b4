#pragma once
// An open ledger database: statements with values, transactions, copies. Which database it is, a Store knows.

#include <cstdint>
#include <map>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "basis/instant.hpp"
#include "ledger/store.hpp"

namespace ebbtide::ledger {

/// How long a second writer waits for its turn.
inline constexpr Span usual_wait{5'000'000'000};

/// An open database. One thread. Every failure says what to do: disk full, read-only, locked by another
/// program, damaged, no database, moved away while open.
class Database {
  public:
    enum class Access { read, write };

    /// An existing file; later, by its address, a server. On a medium that cannot be written it is read as it
    /// lies there.
    [[nodiscard]] static Result<Database> open(const std::string& path, Access access,
                                               Span wait = usual_wait);
    /// A new file, or an empty one, with the page size of ledgers. Error: there is something in it already.
    [[nodiscard]] static Result<Database> create(const std::string& path);
    /// Holds nothing and leaves nothing behind.
    [[nodiscard]] static Result<Database> in_memory();

    explicit Database(std::unique_ptr<Store> store) : store_(std::move(store)) {}

    /// One statement that gives no rows.
    [[nodiscard]] Result<Done> run(const std::string& sql, const std::vector<Value>& values = {});
    /// One query; ends at the first error that `row` returns, which is then the answer.
    [[nodiscard]] Result<Done> each(const std::string& sql, const std::vector<Value>& values,
                                    const EachRow& row);
    /// The first column of the first row; nothing when there is none or it is NULL.
    [[nodiscard]] Result<std::optional<std::int64_t>> number(const std::string& sql,
                                                             const std::vector<Value>& values = {});
    [[nodiscard]] Result<std::optional<std::string>> text(const std::string& sql,
                                                          const std::vector<Value>& values = {});
    /// Several statements without values.
    [[nodiscard]] Result<Done> script(const std::string& sql);

    /// A consistent copy into a new file, also while another program writes. It is on the disk afterwards.
    [[nodiscard]] Result<Done> copy_to(const std::string& path) { return store_->copy_to(path); }

    [[nodiscard]] Result<Mark> mark() { return store_->mark(); }
    [[nodiscard]] Result<Done> set_mark(const Mark& mark) { return store_->set_mark(mark); }
    /// As of a Store.
    [[nodiscard]] Result<std::vector<std::string>> faults() { return store_->faults(); }
    [[nodiscard]] Result<std::map<std::string, std::string>> objects() { return store_->objects(); }

    /// Whether a Writing or a Snapshot is going on.
    [[nodiscard]] bool writing() const { return store_->in_transaction(); }
    [[nodiscard]] const std::string& path() const { return store_->name(); }

  private:
    friend class Writing;
    friend class Snapshot;
    std::unique_ptr<Store> store_;
};

/// Everything written until commit() is on the disk together, or not at all. Without commit() nothing is.
class Writing {
  public:
    /// Waits its turn. Errors: another program keeps writing; read-only.
    [[nodiscard]] static Result<Writing> begin(Database& database);
    ~Writing();
    Writing(Writing&& other) noexcept : database_(other.database_) { other.database_ = nullptr; }
    Writing& operator=(Writing&&) = delete;

    [[nodiscard]] Result<Done> commit();

  private:
    explicit Writing(Database& database) : database_(&database) {}
    Database* database_;
};

/// While it lives all queries see one state, whatever others write meanwhile.
class Snapshot {
  public:
    [[nodiscard]] static Result<Snapshot> begin(Database& database);
    ~Snapshot();
    Snapshot(Snapshot&& other) noexcept : database_(other.database_) { other.database_ = nullptr; }
    Snapshot& operator=(Snapshot&&) = delete;

  private:
    explicit Snapshot(Database& database) : database_(&database) {}
    Database* database_;
};

}  // namespace ebbtide::ledger
