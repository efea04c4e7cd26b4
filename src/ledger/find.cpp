#include "ledger/find.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <nlohmann/json.hpp>

#include "ledger/migrations.hpp"
#include "record/json.hpp"

namespace ebbtide::ledger {
namespace {

using nlohmann::json;
using record::text_or_null;

/// Conditions joined by AND, and their values.
class Conditions {
  public:
    void holds(const std::string& column, const std::string& text) {
        if (!text.empty()) add(fmt::format("instr(lower({}), lower(?)) > 0", column), text);
    }
    void add(const std::string& condition, std::string value) {
        sql_ += (sql_.empty() ? " WHERE " : " AND ") + condition;
        texts_.push_back(std::move(value));
    }
    /// A condition whose values are those of others.
    void add(const std::string& before, const Conditions& inner, const std::string& after) {
        if (inner.sql_.empty()) return;
        sql_ += (sql_.empty() ? " WHERE " : " AND ") + before + inner.sql_ + after;
        texts_.insert(texts_.end(), inner.texts_.begin(), inner.texts_.end());
    }
    [[nodiscard]] const std::string& sql() const { return sql_; }
    [[nodiscard]] std::vector<Value> values() const { return {texts_.begin(), texts_.end()}; }

  private:
    std::string sql_;
    std::vector<std::string> texts_;
};

std::optional<Error> fault_of(const Query& query) {
    if (query.statement.empty()) return {};
    for (const char* word : {"pass", "conditional pass", "conditional fail", "fail", "void"})
        if (query.statement == word) return {};
    return Error{Fault::bad_input, fmt::format("'{}' is no statement of conformity", query.statement),
                 "--statement", "There are: pass, conditional pass, conditional fail, fail, void"};
}

json json_of(const FoundLevel& level) {
    return {{"run", text_or_null(level.run)},
            {"item", level.item},
            {"specimen", level.specimen},
            {"face", level.face},
            {"conditions", level.conditions},
            {"polarity", level.polarity},
            {"replicate", level.replicate},
            {"level", record::or_null(level.level)},
            {"level_kind", text_or_null(level.level_kind)},
            {"status", text_or_null(level.status)},
            {"decay_s", record::or_null(level.decay_s)},
            {"u_decay_s", record::or_null(level.u_decay_s)},
            {"at_least_s", record::or_null(level.at_least_s)},
            {"at_most_s", record::or_null(level.at_most_s)},
            {"counts", level.counts}};
}

json json_of(const FoundOrder& order, const std::vector<FoundLevel>& found) {
    json items = json::array(), levels = json::array();
    for (const FoundItem& item : order.items)
        items.push_back({{"id", item.item}, {"material", item.material}, {"lot", item.lot}});
    for (const FoundLevel& level : found) levels.push_back(json_of(level));
    return {{"order", order.order},
            {"revision", order.revision},
            {"customer", order.customer},
            {"items", std::move(items)},
            {"method", {{"id", order.method}, {"edition", order.method_edition}}},
            {"specification", {{"id", order.specification}, {"edition", order.specification_edition}}},
            {"bench",
             order.bench.empty() ? json() : json({{"id", order.bench}, {"revision", order.bench_revision}})},
            {"statement", order.statement},
            {"tested_from", order.tested_from},
            {"tested_to", order.tested_to},
            {"issued", text_or_null(order.issued)},
            {"runs", order.runs},
            {"levels", std::move(levels)}};
}

/// On found_order.
Result<Conditions> conditions_of(Database& database, const Query& query) {
    if (const auto fault = fault_of(query)) return *fault;
    Conditions item, where;
    item.holds("material", query.material);
    item.holds("lot", query.lot);
    where.add("number IN (SELECT number FROM found_item", item, ")");
    where.holds("order_id", query.order);
    where.holds("customer", query.customer);
    where.holds("method", query.method);
    where.holds("specification", query.specification);
    where.holds("bench", query.bench);
    if (!query.certificate.empty())
        where.add(
            "bench || ', ' || bench_revision IN (SELECT e.id FROM entry e, json_each(e.body, "
            "'$.calibrations') c "
            "WHERE e.kind = 'bench' AND instr(lower(json_extract(c.value, '$.certificate')), lower(?)) > 0)",
            query.certificate);
    if (!query.check.empty()) {
        const auto schema = schema_of(database);
        if (!schema) return schema.error();
        if (*schema < 3)
            return Error{Fault::bad_input, "was made before bench checks were kept", database.path(),
                         "'ebbtide ledger check --rebuild-index' brings it up to date"};
        where.add(
            "number IN (SELECT number FROM found_order_check WHERE instr(lower(check_id), lower(?)) > 0)",
            query.check);
    }
    if (!query.statement.empty()) where.add("statement = ?", query.statement);
    if (query.from) where.add("tested_to >= ?", iso_text(*query.from));
    if (query.to) where.add("tested_from <= ?", iso_text(*query.to));
    return where;
}

}  // namespace

Result<std::vector<FoundOrder>> find(Database& database, const Query& query,
                                     std::optional<std::size_t> at_most) {
    const auto where = conditions_of(database, query);
    if (!where) return where.error();
    const std::string limit = at_most ? fmt::format(" LIMIT {}", *at_most) : "";
    std::vector<FoundOrder> found;
    const auto read = database.each(
        "SELECT number, order_id, order_revision, customer, method, method_edition, specification, "
        "specification_edition, bench, bench_revision, statement, tested_from, tested_to, issued, runs "
        "FROM found_order" +
            where->sql() + " ORDER BY tested_to DESC, number DESC" + limit,
        where->values(), [&](const Row& row) -> Result<Done> {
            found.push_back({row.integer(0),
                             row.text(1),
                             row.integer(2),
                             row.text(3),
                             row.text(4),
                             row.text(5),
                             row.text(6),
                             row.text(7),
                             row.text(8),
                             row.text(9),
                             row.text(10),
                             row.text(11),
                             row.text(12),
                             row.text(13),
                             row.integer(14),
                             {}});
            return Done{};
        });
    if (!read) return read.error();
    for (FoundOrder& order : found) {
        const auto items =
            database.each("SELECT item, material, lot FROM found_item WHERE number = ? ORDER BY rowid",
                          {order.number}, [&](const Row& row) -> Result<Done> {
                              order.items.push_back({row.text(0), row.text(1), row.text(2)});
                              return Done{};
                          });
        if (!items) return items.error();
    }
    return found;
}

Result<std::size_t> count(Database& database, const Query& query) {
    const auto where = conditions_of(database, query);
    if (!where) return where.error();
    std::size_t orders = 0;
    const auto read = database.each("SELECT count(*) FROM found_order" + where->sql(), where->values(),
                                    [&](const Row& row) -> Result<Done> {
                                        orders = static_cast<std::size_t>(row.integer(0));
                                        return Done{};
                                    });
    if (!read) return read.error();
    return orders;
}

std::optional<Error> asked_in_vain(const Query& query, std::initializer_list<std::string_view> has,
                                   std::string_view kind, std::string_view option) {
    const std::pair<const std::string*, std::string_view> all[] = {
        {&query.order, "--order"},       {&query.customer, "--customer"},
        {&query.material, "--material"}, {&query.lot, "--lot"},
        {&query.method, "--method"},     {&query.specification, "--specification"},
        {&query.bench, "--bench"},       {&query.certificate, "--certificate"},
        {&query.check, "--check"},       {&query.statement, "--statement"}};
    for (const auto& [text, name] : all)
        if (!text->empty() && std::ranges::find(has, name) == has.end())
            return Error{Fault::bad_input, fmt::format("is nothing that {} has", kind), std::string(name),
                         fmt::format("Leave it out, or leave out {}", option)};
    return {};
}

Result<std::vector<FoundLevel>> levels_of(Database& database, const std::string& order) {
    std::vector<FoundLevel> found;
    const auto read = database.each(
        "SELECT run_id, item, specimen, face, conditions, polarity, replicate, level, level_kind, status, "
        "decay_s, u_decay_s, at_least_s, at_most_s, counts FROM found_run WHERE order_id = ? "
        "ORDER BY number, line",
        {order}, [&](const Row& row) -> Result<Done> {
            found.push_back({row.text(0), row.text(1), row.text(2), row.text(3), row.text(4), row.text(5),
                             row.integer(6), row.real(7), row.text(8), row.text(9), row.real(10),
                             row.real(11), row.real(12), row.real(13), row.integer(14) != 0});
            return Done{};
        });
    if (!read) return read.error();
    return found;
}

Result<json> json_of(Database& database, const std::vector<FoundOrder>& found) {
    json orders = json::array();
    for (const FoundOrder& order : found) {
        const auto levels = levels_of(database, order.order);
        if (!levels) return levels.error();
        orders.push_back(json_of(order, *levels));
    }
    return json{{"schema", "ebbtide.ledger-find/1"}, {"orders", std::move(orders)}};
}

}  // namespace ebbtide::ledger
