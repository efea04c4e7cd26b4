#include <fmt/format.h>

#include <algorithm>
#include <filesystem>
#include <nlohmann/json.hpp>

#include "basis/number_text.hpp"
#include "cli/clock.hpp"
#include "cli/lot_options.hpp"
#include "cli/print.hpp"
#include "cli/print_lot.hpp"
#include "cli/report_file.hpp"
#include "record/json.hpp"
#include "work/compare_report.hpp"
#include "work/compare_sources.hpp"
#include "work/judge_order.hpp"
#include "work/lot_report.hpp"
#include "work/lot_words.hpp"

namespace ebbtide::cli {
namespace {

constexpr std::uint64_t most_bytes_of_a_table = std::uint64_t{64} << 20;

/// Orders in folders and reports; everything else is a table.
bool is_order(const std::string& source) {
    std::error_code ignored;
    return source.ends_with(".pdf") || std::filesystem::is_directory(source, ignored);
}

struct Compared {
    std::vector<work::LotTime> times;
    std::vector<std::string> left_out;
    std::string level;                 ///< of orders; empty: tables alone
    std::vector<std::string> names;    ///< ids of orders, files of tables
    bool one_table_in_groups = false;  ///< a single table with a column `group`
};

Result<Compared> read_sources(const CompareOptions& options) {
    Compared out;
    std::vector<record::OrderRecord> orders;
    for (const std::string& source : options.sources) {
        if (!is_order(source)) {
            const auto text = work::read_whole(source, most_bytes_of_a_table);
            if (!text) return text.error();
            auto times = work::times_of_table(*text, source);
            if (!times) return times.error();
            out.names.push_back(source);
            std::ranges::move(*times, std::back_inserter(out.times));
            continue;
        }
        const auto files = work::order_files_at(source);
        if (!files) return files.error();
        auto judged = work::judge_order(**files, time_of_making());
        if (!judged) return judged.error();
        out.names.push_back(judged->record.order.id);
        orders.push_back(std::move(judged->record));
    }
    out.one_table_in_groups =
        options.sources.size() == 1 && orders.empty() &&
        std::ranges::any_of(out.times, [](const work::LotTime& one) { return one.labels.contains("group"); });
    if (orders.empty()) {
        if (options.level.empty()) return out;
        return Error{Fault::bad_input, "bare times have no level to choose from", "--level",
                     "Leave it away, or name orders"};
    }
    const auto level = work::compared_level(orders, options.level);
    if (!level) return level.error();
    out.level = level->label();
    for (const record::OrderRecord& order : orders)
        std::ranges::move(work::times_of(order, *level, out.left_out), std::back_inserter(out.times));
    return out;
}

std::string comparison_text(const work::Comparison& comparison) {
    std::string out = bulleted(comparison.reasons, "what these groups say");
    std::size_t width = comparison.request.by.size();
    for (const work::ComparedGroup& one : comparison.groups) width = std::max(width, one.name.size());
    width = std::min<std::size_t>(width, 28);
    out +=
        fmt::format("{:<{}}  specimens   bounds       mean   95 % interval\n", comparison.request.by, width);
    for (const work::ComparedGroup& one : comparison.groups)
        out += fmt::format("{:<{}}  {:>9}  {:>7} {:>10}   {}\n", one.name, width, one.specimens,
                           one.specimens - one.measured, one.mean_s ? work::seconds_text(*one.mean_s) : "–",
                           one.mean_s ? work::range_text(one.interval) : "");
    return out + "\n" + bulleted(comparison.cautions, "what they do not prove");
}

}  // namespace

int compare(const CompareOptions& options) {
    if (!options.output.empty())
        if (const auto fault = fault_of_ending(options.output)) return complain(*fault);
    auto compared = read_sources(options);
    if (!compared) return complain(compared.error());
    work::CompareRequest request;
    request.alike_within = options.alike_within;
    if (!options.by.empty())
        request.by = options.by;
    else if (compared->one_table_in_groups)
        request.by = "group";
    const auto comparison = work::compare(compared->times, request, std::move(compared->left_out));
    if (!comparison) return complain(comparison.error());
    const std::string json =
        record::canonical_text(work::comparison_json(*comparison, compared->names, compared->level));
    if (!options.output.empty()) {
        const std::string subject =
            (compared->level.empty() ? "" : fmt::format("t({}) of ", compared->level)) +
            fmt::format("{}", fmt::join(compared->names, ", "));
        const auto bytes = work::written(work::compose(*comparison, subject, time_of_making()),
                                         options.output, "compare.json", json);
        if (!bytes) return complain(bytes.error());
        if (const auto kept = write_file(options.output, *bytes); !kept) return complain(kept.error());
    }
    fmt::print("{}", options.json ? json : comparison_text(*comparison));
    return ok;
}

}  // namespace ebbtide::cli
