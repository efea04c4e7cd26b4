#pragma once
// What the rows of the ledger share: SQLite as a person would use it, and recordings.

#include <sqlite3.h>

#include <algorithm>
#include <map>
#include <random>
#include <stdexcept>
#include <string>
#include <utility>

#include "basis/result.hpp"

namespace ebbtide::speed {

template <class T>
T got(Result<T> result) {
    if (!result) throw std::runtime_error(result.error().text());
    return std::move(result).value();
}

/// SQLite as a person would use it, without anything of ours.
class PlainSqlite {
  public:
    explicit PlainSqlite(const std::string& path) { check(sqlite3_open(path.c_str(), &handle_)); }
    ~PlainSqlite() {
        for (const auto& [sql, statement] : prepared_) sqlite3_finalize(statement);
        sqlite3_close(handle_);
    }
    PlainSqlite(const PlainSqlite&) = delete;
    PlainSqlite& operator=(const PlainSqlite&) = delete;

    void script(const std::string& sql) {
        check(sqlite3_exec(handle_, sql.c_str(), nullptr, nullptr, nullptr));
    }
    sqlite3_stmt* prepared(const std::string& sql) {
        sqlite3_stmt*& statement = prepared_[sql];
        if (!statement) check(sqlite3_prepare_v2(handle_, sql.c_str(), -1, &statement, nullptr));
        sqlite3_reset(statement);
        return statement;
    }
    /// Sum of a column over all rows, and how many there are.
    std::pair<double, double> sum(const std::string& sql, int column) {
        sqlite3_stmt* statement = prepared(sql);
        std::pair<double, double> sum{0, 0};
        while (sqlite3_step(statement) == SQLITE_ROW) {
            sum.first += sqlite3_column_double(statement, column);
            ++sum.second;
        }
        return sum;
    }
    void check(int code) const {
        if (code != SQLITE_OK && code != SQLITE_DONE) throw std::runtime_error(sqlite3_errmsg(handle_));
    }

  private:
    sqlite3* handle_ = nullptr;
    std::map<std::string, sqlite3_stmt*> prepared_;
};

/// 40 kB that no packing makes smaller.
inline std::string recording(std::uint64_t seed) {
    std::mt19937_64 random(seed);
    std::string bytes(40'000, '\0');
    for (std::size_t i = 0; i + 8 <= bytes.size(); i += 8) {
        const std::uint64_t word = random();
        std::copy_n(reinterpret_cast<const char*>(&word), 8, bytes.data() + i);
    }
    return bytes;
}

inline constexpr int runs_an_order = 25;

}  // namespace ebbtide::speed
