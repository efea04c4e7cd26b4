#include "ledger/archive.hpp"

#include <fmt/format.h>

#include <filesystem>
#include <nlohmann/json.hpp>

#include "ledger/archive_files.hpp"
#include "ledger/durable_file.hpp"
#include "ledger/result_table.hpp"
#include "ledger/segments.hpp"

namespace ebbtide::ledger {
namespace {

namespace fs = std::filesystem;
using nlohmann::json;

/// The links, and the segments that they stand for.
Result<Done> export_chain(Database& ledger, const std::string& directory, Link& last,
                          std::int64_t& segments) {
    auto audit = NewFile::create(directory + "/audit.jsonl");
    if (!audit) return audit.error();
    last = no_link();
    const auto read =
        ledger.each("SELECT number, at_ns, act, content, sha256 FROM link ORDER BY number", {},
                    [&](const Row& row) -> Result<Done> {
                        const Act act = row.text(2) == "entry" ? Act::entry : Act::segment;
                        last = {row.integer(0), Instant{row.integer(1)}, act, row.text(3), row.text(4)};
                        auto added = audit->add(line_of(last) + "\n");
                        if (!added || act == Act::entry) return added;
                        ++segments;
                        const auto bytes = segment(ledger, last.content);
                        if (!bytes) return bytes.error();
                        return write_new_file(directory + "/segments/" + last.content, *bytes);
                    });
    if (!read) return read;
    return audit->finish();
}

Result<Done> export_entries(Database& ledger, const std::string& directory, std::int64_t& count) {
    auto entries = NewFile::create(directory + "/entries.jsonl");
    if (!entries) return entries.error();
    const auto read = ledger.each(fmt::format("SELECT {} FROM entry e JOIN link l ON l.number = e.number "
                                              "ORDER BY e.number",
                                              entry_columns),
                                  {}, [&](const Row& row) -> Result<Done> {
                                      const auto entry = entry_at(row);
                                      if (!entry) return entry.error();
                                      const auto line = line_of(*entry);
                                      if (!line) return line.error();
                                      ++count;
                                      return entries->add(*line + "\n");
                                  });
    if (!read) return read;
    return entries->finish();
}

Result<Done> export_into(Database& ledger, const std::string& directory, const Further& further, Link& last) {
    std::int64_t entries = 0, segments = 0;
    if (auto written = export_chain(ledger, directory, last, segments); !written) return written;
    if (auto written = export_entries(ledger, directory, entries); !written) return written;
    if (auto written = write_result_table(ledger, directory + "/results.csv"); !written) return written;
    if (further)
        if (auto written = further(ledger, directory); !written) return written;
    const json about = {{"schema", export_schema},
                        {"head", last.sha256},
                        {"links", last.number},
                        {"entries", entries},
                        {"segments", segments}};
    if (auto written = write_new_file(directory + "/ledger.json", about.dump() + "\n"); !written)
        return written;
    const auto sums = sums_of(directory);
    if (!sums) return sums.error();
    return write_new_file(directory + "/" + sums_name, text_of(*sums));
}

}  // namespace

Result<Link> export_to(Database& ledger, const std::string& directory, const Further& further) {
    const std::string part = directory + ".part";
    for (const std::string& name : {directory, part}) {
        const auto is_new = must_be_new(name);
        if (!is_new) return is_new.error();
    }
    std::error_code fault;
    fs::create_directories(part + "/segments", fault);
    if (fault)
        return Error{Fault::unreadable, "cannot be made: " + fault.message(), directory,
                     "Check that the folder above it is there and writable"};
    const auto snapshot = Snapshot::begin(ledger);
    if (!snapshot) return snapshot.error();
    Link last;
    auto done = export_into(ledger, part, further, last);
    if (done) done = give_name(part, directory);
    if (!done) {
        fs::remove_all(part, fault);
        return done.error();
    }
    return last;
}

}  // namespace ebbtide::ledger
