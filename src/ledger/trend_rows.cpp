#include "ledger/trend_rows.hpp"

#include <algorithm>
#include <cmath>

#include "ledger/migrations.hpp"

namespace ebbtide::ledger {
namespace {

bool holds(const std::string& text, const std::string& part) {
    const auto plain = [](std::string of) {
        for (char& c : of)
            if (c >= 'A' && c <= 'Z') c = static_cast<char>(c + ('a' - 'A'));
        return of;
    };
    return part.empty() || plain(text).find(plain(part)) != std::string::npos;
}

// Orders by their number, so that sums repeat bit for bit whatever was written when.
const std::string counted_runs =
    "SELECT i.material, o.method, r.conditions, r.level_kind, r.level, substr(o.tested_to, 1, 7), o.number, "
    "o.statement = 'fail', r.decay_s, r.at_least_s IS NOT NULL OR r.status = 'extrapolated', "
    "r.at_most_s IS NOT NULL "
    "FROM found_order o CROSS JOIN found_item i ON i.number = o.number "
    "CROSS JOIN found_run r ON r.order_id = o.order_id AND r.item = i.item "
    "WHERE r.counts = 1 AND r.level IS NOT NULL ";

Result<TrendRows> summed(Database& database, const std::string& where, const std::vector<Value>& values) {
    TrendRows rows;
    std::map<TrendKey, std::int64_t> last_order;
    const auto read = database.each(
        counted_runs + where + " ORDER BY o.number", values, [&](const Row& row) -> Result<Done> {
            const TrendKey key{row.text(0), row.text(1), row.text(2), row.text(3), *row.real(4), row.text(5)};
            TrendSums& sums = rows[key];
            const auto decay_s = row.real(8);
            if (decay_s && *decay_s > 0)
                sums.add_time(*decay_s);
            else if (row.integer(9) != 0)
                ++sums.longer;
            else if (row.integer(10) != 0)
                ++sums.shorter;
            std::int64_t& last = last_order[key];
            if (last == row.integer(6)) return Done{};
            last = row.integer(6);
            ++sums.orders;
            sums.failed += row.integer(7);
            return Done{};
        });
    if (!read) return read.error();
    return rows;
}

Value value_of(const std::optional<double>& number) {
    return number ? Value(*number) : Value(nullptr);
}

Result<Done> write(Database& database, const TrendRows& rows) {
    for (const auto& [key, sums] : rows) {
        auto written =
            database.run("INSERT INTO found_trend VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
                         {key.material, key.method, key.conditions, key.level_kind, key.level, key.month,
                          sums.times, sums.sum_ln, sums.sum_ln2, value_of(sums.shortest_s),
                          value_of(sums.longest_s), sums.longer, sums.shorter, sums.orders, sums.failed});
        if (!written) return written;
    }
    return Done{};
}

Result<std::vector<TrendPlace>> trend_places(Database& database, const std::string& where,
                                             const std::vector<Value>& values) {
    std::vector<TrendPlace> places;
    const auto read = database.each(
        "SELECT i.material, substr(o.tested_to, 1, 7) FROM found_order o "
        "CROSS JOIN found_item i ON i.number = o.number " +
            where,
        values, [&](const Row& row) -> Result<Done> {
            const TrendPlace place{row.text(0), row.text(1)};
            if (std::ranges::find(places, place) == places.end()) places.push_back(place);
            return Done{};
        });
    if (!read) return read.error();
    return places;
}

}  // namespace

void TrendSums::add_time(double decay_s) {
    const double logarithm = std::log(decay_s);
    add({1, logarithm, logarithm * logarithm, decay_s, decay_s});
}

void TrendSums::add(const TrendSums& other) {
    times += other.times;
    sum_ln += other.sum_ln;
    sum_ln2 += other.sum_ln2;
    if (other.shortest_s) shortest_s = std::min(shortest_s.value_or(*other.shortest_s), *other.shortest_s);
    if (other.longest_s) longest_s = std::max(longest_s.value_or(*other.longest_s), *other.longest_s);
    longer += other.longer;
    shorter += other.shorter;
    orders += other.orders;
    failed += other.failed;
}

bool TrendSums::agrees_with(const TrendSums& other) const {
    // A sum near zero is as exact as the roots of its squares.
    const double scale = std::sqrt(std::max(sum_ln2, 0.0) * static_cast<double>(times));
    return times == other.times && std::abs(sum_ln - other.sum_ln) <= 1e-9 * scale &&
           std::abs(sum_ln2 - other.sum_ln2) <= 1e-9 * sum_ln2 && shortest_s == other.shortest_s &&
           longest_s == other.longest_s && longer == other.longer && shorter == other.shorter &&
           orders == other.orders && failed == other.failed;
}

Result<std::vector<TrendPlace>> trend_places_of_order(Database& database, std::int64_t number) {
    return trend_places(database, "WHERE o.number = ?", {number});
}

Result<std::vector<TrendPlace>> trend_places_of_run(Database& database, const std::string& order,
                                                    const std::string& item) {
    return trend_places(database, "WHERE o.order_id = ? AND i.item = ?", {order, item});
}

Result<Done> refresh_trend(Database& database, const std::vector<TrendPlace>& places) {
    for (const TrendPlace& place : places) {
        auto removed = database.run("DELETE FROM found_trend WHERE material = ? AND month = ?",
                                    {place.material, place.month});
        if (!removed) return removed;
        const auto rows = summed(database, "AND substr(o.tested_to, 1, 7) = ? AND i.material = ?",
                                 {place.month, place.material});
        if (!rows) return rows.error();
        auto written = write(database, *rows);
        if (!written) return written;
    }
    return Done{};
}

Result<Done> rebuild_trend(Database& database) {
    auto emptied = database.run("DELETE FROM found_trend");
    if (!emptied) return emptied;
    const auto rows = worked_out_trend(database);
    if (!rows) return rows.error();
    return write(database, *rows);
}

Result<TrendRows> worked_out_trend(Database& database) {
    return summed(database, "", {});
}

Result<Done> each_trend_row(Database& database, const std::string& material,
                            const std::function<void(const TrendKey&, const TrendSums&)>& each) {
    return database.each(
        "SELECT * FROM found_trend WHERE ?1 = '' OR instr(lower(material), lower(?1)) > 0 "
        "ORDER BY material, method, conditions, level_kind, level, month",
        {material}, [&](const Row& row) -> Result<Done> {
            each({row.text(0), row.text(1), row.text(2), row.text(3), *row.real(4), row.text(5)},
                 {row.integer(6), *row.real(7), *row.real(8), row.real(9), row.real(10), row.integer(11),
                  row.integer(12), row.integer(13), row.integer(14)});
            return Done{};
        });
}

Result<Done> each_trend(Database& database, const std::string& material,
                        const std::function<void(const TrendKey&, const TrendSums&)>& each) {
    const auto schema = schema_of(database);
    if (!schema) return schema.error();
    if (*schema >= 2) return each_trend_row(database, material, each);
    const auto all = worked_out_trend(database);
    if (!all) return all.error();
    for (const auto& [key, sums] : *all)
        if (holds(key.material, material)) each(key, sums);
    return Done{};
}

}  // namespace ebbtide::ledger
