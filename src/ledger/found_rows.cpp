#include "ledger/found_rows.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <set>

#include "ledger/canonical.hpp"
#include "ledger/migrations.hpp"
#include "ledger/trend_rows.hpp"

namespace ebbtide::ledger {
namespace {

using nlohmann::json;

constexpr const char *order_table = "found_order", *run_table = "found_run";

struct Table {
    const char* name;
    const char* insert;
    const char* read;
    const char* remove;
    int columns;
    std::int64_t since;  ///< schema
};

constexpr std::array tables{
    Table{order_table, "INSERT INTO found_order VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
          "SELECT * FROM found_order WHERE number = ?", "DELETE FROM found_order WHERE number = ?", 15, 1},
    Table{"found_item", "INSERT INTO found_item VALUES (?, ?, ?, ?)",
          "SELECT * FROM found_item WHERE number = ? ORDER BY rowid",
          "DELETE FROM found_item WHERE number = ?", 4, 1},
    Table{run_table, "INSERT INTO found_run VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
          "SELECT * FROM found_run WHERE number = ?1 AND order_id = "
          "(SELECT json_extract(body, '$.order') FROM entry WHERE number = ?1) ORDER BY line",
          "DELETE FROM found_run WHERE number = ?1 AND order_id = "
          "(SELECT json_extract(body, '$.order') FROM entry WHERE number = ?1)",
          18, 1},
    Table{"found_transcript", "INSERT INTO found_transcript VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
          "SELECT * FROM found_transcript WHERE number = ?", "DELETE FROM found_transcript WHERE number = ?",
          13, 2},
    Table{"found_check", "INSERT INTO found_check VALUES (?, ?, ?, ?, ?, ?, ?)",
          "SELECT * FROM found_check WHERE number = ?", "DELETE FROM found_check WHERE number = ?", 7, 3},
    Table{"found_order_check", "INSERT INTO found_order_check VALUES (?, ?)",
          "SELECT * FROM found_order_check WHERE number = ? ORDER BY check_id",
          "DELETE FROM found_order_check WHERE number = ?", 2, 3}};

/// Opened for reading only, an older ledger has fewer.
Result<std::vector<Table>> tables_in(Database& database) {
    const auto schema = schema_of(database);
    if (!schema) return schema.error();
    std::vector<Table> there;
    for (const Table& table : tables)
        if (table.since <= *schema) there.push_back(table);
    return there;
}

/// Reads what a body must have; the first thing that it has not is remembered.
class Reader {
  public:
    explicit Reader(const json& body) : body_(body) {}

    Cell text(const char* pointer) {
        const json& value = at(pointer);
        if (value.is_string()) return value.get<std::string>();
        return wrong(pointer, "text");
    }
    /// Empty where the object that would hold it is null.
    Cell text_if(const char* object, const char* pointer) {
        return at(object).is_null() ? Cell(std::string()) : text(pointer);
    }
    Cell text_or_null(const char* pointer) { return at(pointer).is_null() ? Cell() : text(pointer); }
    Cell integer(const char* pointer) {
        const json& value = at(pointer);
        if (value.is_number_integer()) return value.get<std::int64_t>();
        return wrong(pointer, "a whole number");
    }
    Cell real(const char* pointer) {
        const json& value = at(pointer);
        if (value.is_number()) return value.get<double>();
        return wrong(pointer, "a number");
    }
    Cell real_or_null(const char* pointer) { return at(pointer).is_null() ? Cell() : real(pointer); }
    Cell truth(const char* pointer) {
        const json& value = at(pointer);
        if (value.is_boolean()) return static_cast<std::int64_t>(value.get<bool>());
        return wrong(pointer, "true or false");
    }
    /// Nanoseconds since 1970.
    Cell instant(const char* pointer) {
        const json& value = at(pointer);
        const auto instant =
            parse_instant(value.is_string() ? value.get_ref<const std::string&>() : std::string());
        return instant ? Cell(instant->ns) : wrong(pointer, "an instant");
    }
    const json& list(const char* pointer) {
        static const json none = json::array();
        const json& value = at(pointer);
        if (value.is_array()) return value;
        (void)wrong(pointer, "a list");
        return none;
    }
    /// Takes over what was wrong within a part of the body.
    void take(const Reader& part) {
        if (fault_.empty()) fault_ = part.fault_;
    }
    [[nodiscard]] const std::string& fault() const { return fault_; }

  private:
    /// The value that a JSON pointer of plain keys names.
    [[nodiscard]] const json& at(std::string_view pointer) {
        static const json none;
        const json* value = &body_;
        for (std::string_view keys = pointer; !keys.empty();) {
            keys.remove_prefix(1);
            const std::string_view key = keys.substr(0, keys.find('/'));
            const auto found = value->find(key);
            if (found == value->end()) {
                (void)wrong(pointer, "in it");
                return none;
            }
            value = &*found;
            keys.remove_prefix(key.size());
        }
        return *value;
    }
    Cell wrong(std::string_view pointer, const char* wanted) {
        if (fault_.empty()) fault_ = fmt::format("{} is not {}", pointer, wanted);
        return {};
    }
    const json& body_;
    std::string fault_;
};

/// The bench checks among the files of a statement, each once, in the order of their ids.
void add_order_checks(std::int64_t number, const json& document, Reader& body, std::vector<FoundRow>& rows) {
    const auto files = document.find("files"), bench = document.find("bench");
    if (files == document.end() || bench == document.end() || bench->is_null()) return;
    std::set<std::string> ids;
    for (const json& one : body.list("/files")) {
        if (!one.is_object() || one.value("role", json()) != "bench_check") continue;
        Reader file(one), cited(*bench);
        const Cell name = file.text("/name"), id = cited.text("/id");
        body.take(file);
        body.take(cited);
        if (body.fault().empty())
            ids.insert(check_id(std::get<std::string>(id), std::get<std::string>(name)));
    }
    for (const std::string& id : ids) rows.push_back({"found_order_check", {number, id}});
}

void add_statement(std::int64_t number, const json& document, Reader& body, std::vector<FoundRow>& rows) {
    rows.push_back({order_table,
                    {number, body.text("/order"), body.integer("/order_revision"), body.text("/customer"),
                     body.text("/method/id"), body.text("/method/edition"), body.text("/specification/id"),
                     body.text("/specification/edition"), body.text_if("/bench", "/bench/id"),
                     body.text_if("/bench", "/bench/revision"), body.text("/statement"),
                     body.text("/tested_from"), body.text("/tested_to"), body.text_or_null("/issued"),
                     static_cast<std::int64_t>(body.list("/runs").size())}});
    for (const json& one : body.list("/items")) {
        Reader item(one);
        rows.push_back(
            {"found_item", {number, item.text("/id"), item.text("/description"), item.text("/lot")}});
        body.take(item);
    }
    add_order_checks(number, document, body, rows);
}

void add_check(const Entry& entry, Reader& body, std::vector<FoundRow>& rows) {
    rows.push_back({"found_check",
                    {entry.number, entry.id, body.text("/bench"), body.text("/bench_revision"),
                     body.text("/kind"), body.instant("/ended"), body.text("/outcome")}});
}

void add_run(std::int64_t number, const json& document, Reader& body, std::vector<FoundRow>& rows) {
    const Cell order = body.text("/order"), item = body.text("/item"), counts = body.truth("/counts"),
               run = body.text_if("/run", "/run");
    const auto key = [&](std::int64_t line) {
        return FoundRow{run_table,
                        {number, line, order, run, item, body.text("/specimen"), body.text("/face"),
                         body.text("/conditions"), body.text("/polarity"), body.integer("/replicate")}};
    };
    const auto add = [&](FoundRow row, std::vector<Cell> figures) {
        row.cells.insert(row.cells.end(), figures.begin(), figures.end());
        row.cells.push_back(counts);
        rows.push_back(std::move(row));
    };
    const auto figures = document.find("figures");
    if (figures == document.end() || figures->is_null()) {
        add(key(1), std::vector<Cell>(7));
        return;
    }
    std::int64_t line = 0;
    for (const json& one : body.list("/figures/levels")) {
        Reader level(one);
        add(key(++line), {level.real("/level"), level.text("/level_kind"), level.text("/status"),
                          level.real_or_null("/decay_s"), level.real_or_null("/u_decay_s"),
                          level.real_or_null("/at_least_s"), level.real_or_null("/at_most_s")});
        body.take(level);
    }
}

void add_transcript(std::int64_t number, Reader& body, std::vector<FoundRow>& rows) {
    rows.push_back({"found_transcript",
                    {number, body.text("/material"), body.text("/lot"), body.text("/customer"),
                     body.text("/method"), body.text("/specimen"), body.text("/tested"), body.real("/level"),
                     body.text("/level_kind"), body.real("/decay_s"), body.real_or_null("/u_decay_s"),
                     body.text("/source/file"), body.integer("/source/row")}});
}

Value value_of(const Cell& cell) {
    if (const auto* integer = std::get_if<std::int64_t>(&cell)) return *integer;
    if (const auto* real = std::get_if<double>(&cell)) return *real;
    if (const auto* text = std::get_if<std::string>(&cell)) return std::string_view(*text);
    return nullptr;
}

Result<Done> insert(Database& database, const std::vector<FoundRow>& rows) {
    for (const FoundRow& row : rows) {
        std::vector<Value> values;
        for (const Cell& cell : row.cells) values.push_back(value_of(cell));
        for (const Table& table : tables) {
            if (row.table != table.name) continue;
            auto added = database.run(table.insert, values);
            if (!added) return added;
        }
    }
    return Done{};
}

/// Where a trend changes with the rows of an entry.
Result<std::vector<TrendPlace>> places_of(Database& database, const std::vector<FoundRow>& rows) {
    if (rows.empty()) return std::vector<TrendPlace>();
    const FoundRow& first = rows.front();
    if (first.table == order_table)
        return trend_places_of_order(database, std::get<std::int64_t>(first.cells[0]));
    if (first.table == run_table)
        return trend_places_of_run(database, std::get<std::string>(first.cells[2]),
                                   std::get<std::string>(first.cells[4]));
    return std::vector<TrendPlace>();  // nothing that a trend shows
}

}  // namespace

Result<std::vector<FoundRow>> found_rows(const Entry& entry, const json& document) {
    std::vector<FoundRow> rows;
    if (entry.voided) return rows;
    Reader body(document);
    if (entry.kind == Kind::statement) add_statement(entry.number, document, body, rows);
    if (entry.kind == Kind::run) add_run(entry.number, document, body, rows);
    if (entry.kind == Kind::transcript) add_transcript(entry.number, body, rows);
    if (entry.kind == Kind::bench_check) add_check(entry, body, rows);
    if (!body.fault().empty())
        return Error{Fault::bad_input, body.fault(), fmt::format("{} {}", name_of(entry.kind), entry.id),
                     "The bodies of entries: docs/formats/ledger.md"};
    return rows;
}

Result<std::vector<FoundRow>> found_rows_in(Database& database, const Entry& entry, const json& body) {
    auto rows = found_rows(entry, body);
    if (!rows) return rows;
    const auto there = tables_in(database);
    if (!there) return there.error();
    std::erase_if(rows.value(), [&](const FoundRow& row) {
        return std::ranges::none_of(*there, [&](const Table& table) { return row.table == table.name; });
    });
    return rows;
}

std::string check_id(std::string_view bench, std::string_view file) {
    file.remove_prefix(std::min(file.rfind('/') + 1, file.size()));
    if (file.ends_with(".json")) file.remove_suffix(5);
    return fmt::format("{}/{}", bench, file);
}

Result<Done> add_found_rows(Database& database, const std::vector<FoundRow>& rows) {
    auto added = insert(database, rows);
    if (!added) return added;
    const auto places = places_of(database, rows);
    if (!places) return places.error();
    return refresh_trend(database, *places);
}

Result<Done> remove_found_rows(Database& database, std::int64_t number) {
    const auto rows = read_found_rows(database, number);
    if (!rows) return rows.error();
    const auto places = places_of(database, *rows);
    if (!places) return places.error();
    for (const Table& table : tables) {
        auto removed = database.run(table.remove, {number});
        if (!removed) return removed;
    }
    return refresh_trend(database, *places);
}

Result<std::vector<FoundRow>> read_found_rows(Database& database, std::int64_t number) {
    std::vector<FoundRow> rows;
    const auto there = tables_in(database);
    if (!there) return there.error();
    for (const Table& table : *there) {
        const auto read = database.each(table.read, {number}, [&](const Row& row) -> Result<Done> {
            FoundRow found{table.name, {}};
            for (int column = 0; column < table.columns; ++column) found.cells.push_back(row.cell(column));
            rows.push_back(std::move(found));
            return Done{};
        });
        if (!read) return read.error();
    }
    return rows;
}

Result<std::int64_t> count_found_rows(Database& database) {
    const auto there = tables_in(database);
    if (!there) return there.error();
    std::int64_t total = 0;
    for (const Table& table : *there) {
        const auto count = database.number(fmt::format("SELECT count(*) FROM {}", table.name));
        if (!count) return count.error();
        total += count->value_or(0);
    }
    return total;
}

Result<Done> each_searched(Database& database, const std::function<Result<Done>(const Entry&)>& entry) {
    return database.each(
        fmt::format("SELECT {} FROM entry e JOIN link l ON l.number = e.number "
                    "WHERE e.kind IN ('statement', 'run', 'transcript', 'bench_check') AND e.voided = 0 AND "
                    "e.revision = "
                    "(SELECT max(revision) FROM entry WHERE kind = e.kind AND id = e.id) ORDER BY e.number",
                    entry_columns),
        {}, [&](const Row& row) -> Result<Done> {
            const auto one = entry_at(row);
            if (!one) return one.error();
            return entry(*one);
        });
}

Result<Done> fill_order_checks(Database& database) {
    return each_searched(database, [&](const Entry& entry) -> Result<Done> {
        if (entry.kind != Kind::statement) return Done{};
        const auto body = parse_canonical(entry.body);
        if (!body) return body.error();
        auto rows = found_rows(entry, *body);
        if (!rows) return rows.error();
        std::erase_if(rows.value(), [](const FoundRow& row) { return row.table != "found_order_check"; });
        return insert(database, *rows);
    });
}

Result<Done> rebuild_found_rows(Database& database) {
    for (const Table& table : tables) {
        auto emptied = database.script(fmt::format("DELETE FROM {}", table.name));
        if (!emptied) return emptied;
    }
    auto filled = each_searched(database, [&](const Entry& entry) -> Result<Done> {
        const auto body = parse_canonical(entry.body);
        if (!body) return body.error();
        const auto rows = found_rows(entry, *body);
        if (!rows) return rows.error();
        return insert(database, *rows);
    });
    if (!filled) return filled;
    return rebuild_trend(database);
}

}  // namespace ebbtide::ledger
