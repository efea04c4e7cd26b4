#include "work/ledger_export.hpp"

#include <filesystem>
#include <nlohmann/json.hpp>
#include <set>

#include "ledger/entries.hpp"
#include "ledger/segments.hpp"
#include "recording/hdf5_writer.hpp"
#include "work/convert.hpp"

namespace ebbtide::work {
namespace {

using ledger::Database;
using nlohmann::json;

/// A value of a record, or a default where it is absent or of another type.
template <class T>
T value_at(const json& document, const char* pointer, T otherwise) {
    const json::json_pointer place(pointer);
    if (!document.contains(place)) return otherwise;
    const json& value = document.at(place);
    if constexpr (std::is_same_v<T, std::string>)
        return value.is_string() ? value.get<std::string>() : otherwise;
    else
        return value.is_number() ? T(value.get<double>()) : otherwise;
}

/// How the order that brought a recording had it read: its own word, else its bench's.
recording::ReadOptions options_of(const json& record, const std::string& file) {
    const json none = json::object();
    const json* planned = &none;
    if (const json::json_pointer all("/order/recordings"); record.contains(all) && record.at(all).is_array())
        for (const json& one : record.at(all))
            if (value_at<std::string>(one, "/file", "") == file) planned = &one;
    const auto name = [&](const char* of_order, const char* of_bench) {
        const auto own = value_at<std::string>(*planned, of_order, "");
        return own.empty() ? value_at<std::string>(record, of_bench, "") : own;
    };
    const auto bench_interval_s = value_at<std::optional<double>>(record, "/bench/sample_interval_s", {});
    return {.specimen = name("/specimen_channel", "/bench/channels/specimen"),
            .electrode = name("/electrode_channel", "/bench/channels/electrode"),
            .marker = name("/marker_channel", "/bench/channels/marker"),
            .time = name("/time_channel", "/bench/channels/time"),
            .sample_interval_s =
                value_at<std::optional<double>>(*planned, "/sample_interval_s", bench_interval_s),
            .time_unit = ""};
}

/// Leaves no file where the bytes are not read as a recording. Error: the disk refuses.
Result<Done> write_hdf5(std::string bytes, const std::string& name, const recording::ReadOptions& options,
                        const std::string& path) {
    auto source = recording::open_bytes(std::move(bytes), name, options);
    if (!source || (*source)->kept_runs()) return Done{};
    recording::Hdf5Writer writer(path);
    const auto converted = convert(**source, writer);
    if (converted) return Done{};
    std::error_code ignored;
    std::filesystem::remove(path, ignored);
    if (converted.error().where == path) return converted.error();
    return Done{};
}

/// The recordings of one record of a judged order, each once.
Result<Done> export_recordings_of(Database& ledger, const json& record, const std::string& folder,
                                  std::set<std::string>& done) {
    if (!record.contains("recordings") || !record["recordings"].is_array()) return Done{};
    for (const json& one : record["recordings"]) {
        const auto sha256 = value_at<std::string>(one, "/sha256", ""),
                   file = value_at<std::string>(one, "/file", "");
        if (done.contains(sha256)) continue;
        const auto kept = ledger::has_segment(ledger, sha256);
        if (!kept) return kept.error();
        if (!*kept) continue;
        done.insert(sha256);
        auto bytes = ledger::segment(ledger, sha256);
        if (!bytes) return bytes.error();
        auto written = write_hdf5(std::move(bytes).value(), file, options_of(record, file),
                                  folder + "/" + sha256 + ".h5");
        if (!written) return written;
    }
    return Done{};
}

/// Segments that hold the record of a judged order, oldest first.
Result<std::vector<std::string>> records_in(Database& ledger) {
    std::vector<std::string> records;
    const auto read = ledger.each("SELECT body FROM entry WHERE kind = 'statement' ORDER BY number", {},
                                  [&](const ledger::Row& row) -> Result<Done> {
                                      const json body = json::parse(row.text(0), nullptr, false);
                                      records.push_back(value_at<std::string>(body, "/record", ""));
                                      return Done{};
                                  });
    if (!read) return read.error();
    return records;
}

Result<Done> export_recordings(Database& ledger, const std::string& directory) {
    const std::string folder = directory + "/recordings";
    std::error_code fault;
    std::filesystem::create_directory(folder, fault);
    if (fault)
        return Error{Fault::unreadable, "cannot be made: " + fault.message(), folder,
                     "Check that the folder above it is writable and the disk not full"};
    const auto records = records_in(ledger);
    if (!records) return records.error();
    std::set<std::string> done;
    for (const std::string& sha256 : *records) {
        const auto kept = ledger::has_segment(ledger, sha256);
        if (!kept) return kept.error();
        if (!*kept) continue;
        const auto record = ledger::segment(ledger, sha256);
        if (!record) return record.error();
        auto written = export_recordings_of(ledger, json::parse(*record, nullptr, false), folder, done);
        if (!written) return written;
    }
    return Done{};
}

}  // namespace

Result<ledger::Link> export_ledger(Database& ledger, const std::string& directory) {
    return ledger::export_to(ledger, directory, export_recordings);
}

}  // namespace ebbtide::work
