#include "work/documents_to_drive.hpp"

#include <fmt/format.h>

#include <filesystem>
#include <nlohmann/json.hpp>

#include "paperwork/paperwork.hpp"
#include "recording/source.hpp"
#include "work/order_documents.hpp"

namespace ebbtide::work {

Result<record::OrderRecord> documents_to_drive(const std::string& folder) {
    auto files = folder_files(folder);
    const auto text = files->text("order.toml");
    if (!text) return text.error();
    const auto order = paperwork::parse_order(*text, "order.toml");
    if (!order) return order.error();
    if (order->live_file.empty())
        return Error{Fault::bad_input, "the order names no file for runs that are recorded live",
                     folder + "/order.toml", "Write near its top: live = \"live.toml\""};
    std::error_code none;
    if (!std::filesystem::exists(folder + "/" + order->live_file, none))
        files = with_file(
            std::move(files), order->live_file,
            fmt::format("schema = \"ebbtide.live/1\"\norder = {}\n", nlohmann::json(order->id).dump()));
    record::OrderRecord documents;
    const auto read = read_documents(*files, {}, documents);
    if (!read) return read.error();
    if (documents.method.reference_run)
        return Error{Fault::bad_input, "the method takes V0 from a run without specimen", "method",
                     "Make the runs by hand and listen to them: ebbtide listen"};
    return documents;
}

Result<plan::Bench> bench_to_drive(const std::string& bench_file, const std::optional<plan::Bench>& own) {
    plan::Bench bench;
    if (bench_file.empty()) {
        if (!own)
            return Error{Fault::bad_input, "the order names no bench", "order.toml",
                         "Name it in the order, or say --bench FILE"};
        bench = *own;
    } else {
        const auto text = read_whole(bench_file, std::uint64_t{4} << 20);
        if (!text) return text.error();
        auto parsed = paperwork::parse_bench(*text, bench_file);
        if (!parsed) return parsed.error();
        bench = std::move(parsed).value();
        if (own && (own->id != bench.id || own->revision != bench.revision))
            return Error{
                Fault::bad_input,
                fmt::format("is bench '{}', revision '{}'; the order is tested on '{}', revision '{}'",
                            bench.id, bench.revision, own->id, own->revision),
                bench_file, "Bring the order's bench file up to date, or drive the other bench"};
    }
    if (!bench.drive)
        return Error{Fault::bad_input,
                     "the bench file has no table [drive]: how it may be driven is not known",
                     bench_file.empty() ? bench.id : bench_file, "docs/formats/bench.md explains the table"};
    return bench;
}

bench::Scales scales_of(const plan::Bench& bench) {
    return {bench.sensor.scale, bench.electrode};
}

}  // namespace ebbtide::work
