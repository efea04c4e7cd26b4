#pragma once
// The one place that speaks to SQLite: statements with values, transactions, copies. What it offers is what
// the ledger needs of a store, so that another one can stand here.

#include <cstddef>
#include <cstdint>
#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <string_view>
#include <variant>
#include <vector>

#include "basis/instant.hpp"
#include "basis/result.hpp"

namespace ebbtide::ledger {

/// Bytes that are no text.
struct Blob {
    explicit Blob(std::string_view of) : bytes(of) {}
    std::string_view bytes;
};
/// A value for a `?` of a statement; nullptr is NULL. Texts and blobs must outlive the call they are given
/// to.
using Value = std::variant<std::nullptr_t, std::int64_t, double, std::string_view, Blob>;

/// A value that owns what it holds; monostate is NULL.
using Cell = std::variant<std::monostate, std::int64_t, double, std::string>;

/// The row that a query stands at. Columns count from 0.
class Row {
  public:
    [[nodiscard]] std::int64_t integer(int column) const;
    /// Nothing when the column is NULL.
    [[nodiscard]] std::optional<double> real(int column) const;
    /// Text or blob, byte for byte; empty when NULL.
    [[nodiscard]] std::string text(int column) const;
    [[nodiscard]] bool is_null(int column) const;
    [[nodiscard]] Cell cell(int column) const;

  private:
    friend class Database;
    explicit Row(void* statement) : statement_(statement) {}
    void* statement_;
};
using EachRow = std::function<Result<Done>(const Row&)>;

/// How long a second writer waits for its turn.
inline constexpr Span usual_wait{5'000'000'000};

/// An open database. One thread. Every failure says what to do: disk full, read-only, locked by another
/// program, damaged, no database, moved away while open.
class Database {
  public:
    enum class Access { read, write };

    /// An existing file. On a medium that cannot be written it is read as it lies there.
    [[nodiscard]] static Result<Database> open(const std::string& path, Access access,
                                               Span wait = usual_wait);
    /// A new file, or an empty one, with the page size of ledgers. Error: there is something in it already.
    [[nodiscard]] static Result<Database> create(const std::string& path);
    /// Holds nothing and leaves nothing behind.
    [[nodiscard]] static Result<Database> in_memory();

    ~Database();
    Database(Database&&) noexcept;
    Database& operator=(Database&&) noexcept;

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
    [[nodiscard]] Result<Done> copy_to(const std::string& path);

    /// Whether a Writing or a Snapshot is going on.
    [[nodiscard]] bool writing() const;
    [[nodiscard]] const std::string& path() const;

  private:
    friend class Writing;
    struct State;
    explicit Database(std::unique_ptr<State> state);
    [[nodiscard]] std::optional<Error> moved() const;
    std::unique_ptr<State> state_;
};

/// Everything written until commit() is on the disk together, or not at all. Without commit() nothing is.
class Writing {
  public:
    /// Waits its turn. Errors: another program keeps writing; read-only; the file was moved.
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
