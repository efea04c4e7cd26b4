#pragma once
// What a ledger stands on: a database that takes statements with values, keeps what it acknowledged, and can
// be copied while it is written to. SQLite is one, sqlite_store.hpp; another is a second class behind this
// interface.
//
// Statements are written as SQLite reads them, with `?` and `?1` for values. What a store of another database
// has to translate of what they say otherwise is listed in docs/decisions/0012-ledger-in-sqlite.md. The
// tables themselves come from migrations.cpp, step by step.

#include <cstddef>
#include <cstdint>
#include <functional>
#include <map>
#include <optional>
#include <string>
#include <string_view>
#include <variant>
#include <vector>

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
    virtual ~Row() = default;
    [[nodiscard]] virtual std::int64_t integer(int column) const = 0;
    /// Nothing when the column is NULL.
    [[nodiscard]] virtual std::optional<double> real(int column) const = 0;
    /// Text or blob, byte for byte; empty when NULL.
    [[nodiscard]] virtual std::string text(int column) const = 0;
    [[nodiscard]] virtual bool is_null(int column) const = 0;
    [[nodiscard]] virtual Cell cell(int column) const = 0;
};
using EachRow = std::function<Result<Done>(const Row&)>;

/// What a database says of itself: whose it is, and which schema it has.
struct Mark {
    std::int64_t application = 0, schema = 0;
};

/// One thread. Every failure says what to do: disk full, read-only, locked by another program, damaged, no
/// database, moved away while open.
class Store {
  public:
    virtual ~Store() = default;

    /// One query or statement; ends at the first error that `row` returns, which is then the answer.
    [[nodiscard]] virtual Result<Done> each(const std::string& sql, const std::vector<Value>& values,
                                            const EachRow& row) = 0;
    /// Several statements without values.
    [[nodiscard]] virtual Result<Done> script(const std::string& sql) = 0;

    /// Waits its turn. Errors: another program keeps writing; read-only.
    [[nodiscard]] virtual Result<Done> begin_writing() = 0;
    /// From here on all queries see one state.
    [[nodiscard]] virtual Result<Done> begin_reading() = 0;
    /// When it returns without an error, no loss of power takes back what was written.
    [[nodiscard]] virtual Result<Done> commit() = 0;
    virtual void roll_back() = 0;
    /// Between begin and commit or roll_back; a database may have given up by itself.
    [[nodiscard]] virtual bool in_transaction() const = 0;

    [[nodiscard]] virtual Result<Mark> mark() = 0;
    /// Within a transaction.
    [[nodiscard]] virtual Result<Done> set_mark(const Mark& mark) = 0;
    /// What the database finds wrong with its own files, in words; at most a hundred.
    [[nodiscard]] virtual Result<std::vector<std::string>> faults() = 0;
    /// Tables, indexes, views and triggers as they were made, by name: what somebody may have changed.
    [[nodiscard]] virtual Result<std::map<std::string, std::string>> objects() = 0;

    /// A consistent copy into a new file, also while another program writes. It is on the disk afterwards.
    [[nodiscard]] virtual Result<Done> copy_to(const std::string& path) = 0;
    /// As it was named when it was opened.
    [[nodiscard]] virtual const std::string& name() const = 0;
};

}  // namespace ebbtide::ledger
