#include "work/ledger_export.hpp"

#include <filesystem>
#include <nlohmann/json.hpp>
#include <set>

#include "ledger/entries.hpp"
#include "ledger/segments.hpp"
#include "recording/hdf5_writer.hpp"
#include "work/convert.hpp"
#include "work/kept_recording.hpp"
#include "work/ledger_entries.hpp"

namespace ebbtide::work {
namespace {

using ledger::Database;
using nlohmann::json;

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
        const auto sha256 = text_at(one, "/sha256"), file = text_at(one, "/file");
        if (done.contains(sha256)) continue;
        const auto kept = ledger::has_segment(ledger, sha256);
        if (!kept) return kept.error();
        if (!*kept) continue;
        done.insert(sha256);
        auto bytes = ledger::segment(ledger, sha256);
        if (!bytes) return bytes.error();
        auto written = write_hdf5(std::move(bytes).value(), file, kept_read_options(record, file),
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
                                      records.push_back(text_at(body, "/record"));
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
