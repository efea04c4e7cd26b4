#include "ledger/result_table.hpp"

#include <fmt/format.h>

#include "basis/number_text.hpp"
#include "ledger/durable_file.hpp"

namespace ebbtide::ledger {
namespace {

constexpr const char* columns =
    "order_id,order_revision,customer,method,method_edition,specification,specification_edition,bench,"
    "bench_revision,statement,tested_from,tested_to,issued,item,material,lot,run_id,specimen,face,conditions,"
    "polarity,replicate,level,level_kind,status,decay_s,u_decay_s,at_least_s,at_most_s,counts";
constexpr int column_count = 30;

/// What is absent is an empty field, an empty text is "".
std::string field_of(const Cell& cell) {
    if (const auto* integer = std::get_if<std::int64_t>(&cell)) return std::to_string(*integer);
    if (const auto* real = std::get_if<double>(&cell)) return shortest_text(*real);
    const auto* text = std::get_if<std::string>(&cell);
    if (!text) return "";
    if (!text->empty() && text->find_first_of(",\"\r\n") == std::string::npos) return *text;
    std::string quoted = "\"";
    for (const char c : *text) quoted += c == '"' ? std::string("\"\"") : std::string(1, c);
    return quoted + "\"";
}

}  // namespace

Result<Done> write_result_table(Database& ledger, const std::string& path) {
    auto table = NewFile::create(path);
    if (!table) return table.error();
    if (auto written = table->add(std::string(columns) + "\r\n"); !written) return written;
    // By place in the plan, so that the same ledger gives the same rows in the same order.
    const auto read = ledger.each(
        fmt::format("SELECT {} FROM found_result ORDER BY order_id, item, specimen, face, conditions, "
                    "polarity, replicate, run_id, level_kind, level DESC",
                    columns),
        {}, [&](const Row& row) {
            std::string line;
            for (int i = 0; i < column_count; ++i) line += (i > 0 ? "," : "") + field_of(row.cell(i));
            return table->add(line + "\r\n");
        });
    if (!read) return read;
    return table->finish();
}

}  // namespace ebbtide::ledger
