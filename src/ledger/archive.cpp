#include "ledger/archive.hpp"

#include <fmt/format.h>

#include <filesystem>
#include <map>
#include <nlohmann/json.hpp>

#include "basis/sha256.hpp"
#include "ledger/canonical.hpp"
#include "ledger/durable_file.hpp"
#include "ledger/entries.hpp"
#include "ledger/result_table.hpp"
#include "ledger/segments.hpp"

namespace ebbtide::ledger {
namespace {

namespace fs = std::filesystem;
using nlohmann::json;

constexpr const char* schema = "ebbtide.ledger/1";
constexpr const char* sums_name = "SHA256SUMS";
/// Bytes of a list: a million entries of 4 kB.
constexpr std::uint64_t largest_list = std::uint64_t{4} << 30;

/// SHA-256 by file name, as in SHA256SUMS.
using Sums = std::map<std::string, std::string>;

std::string text_of(const Sums& sums) {
    std::string text;
    for (const auto& [name, sha256] : sums) text += sha256 + "  " + name + "\n";
    return text;
}

/// Of every file there is, but for the list of sums itself.
Result<Sums> sums_of(const std::string& directory) {
    Sums sums;
    std::error_code fault;
    fs::recursive_directory_iterator file(directory, fault);
    for (; !fault && file != fs::recursive_directory_iterator(); file.increment(fault)) {
        std::error_code none;
        if (file->is_directory(none) && !file->is_symlink(none)) continue;
        const std::string name = fs::path(file->path()).lexically_relative(directory).string();
        if (name == sums_name) continue;
        Sha256 hash;
        const auto read = each_piece(file->path().string(), [&](std::string_view piece) { hash.add(piece); });
        if (!read) return read.error();
        sums[name] = hash.hex();
    }
    if (fault)
        return Error{Fault::bad_input, "cannot be read: " + fault.message(), directory,
                     "Name the directory that 'ebbtide ledger export' made"};
    return sums;
}

std::string line_of(const Link& link) {
    return fmt::format(R"({{"number":{},"at_ns":{},"act":"{}","content":"{}","sha256":"{}"}})", link.number,
                       link.at.ns, name_of(link.act), link.content, link.sha256);
}

Result<std::string> line_of(const Entry& entry) {
    const json texts[] = {entry.id, entry.who, entry.why};
    std::string line = fmt::format(R"({{"number":{},"kind":"{}","revision":{})", entry.number,
                                   name_of(entry.kind), entry.revision);
    const char* names[] = {"id", "who", "why"};
    for (std::size_t i = 0; i < 3; ++i) {
        const auto text = canonical_line(texts[i]);
        if (!text) return text.error();
        line += fmt::format(R"(,"{}":{})", names[i], *text);
    }
    return line +
           fmt::format(R"(,"voided":{},"sha256":"{}","body":{}}})", entry.voided, entry.sha256, entry.body);
}

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
    const json about = {{"schema", schema},
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

Error not_as_written(const std::string& directory, const std::string& what) {
    return {Fault::inconsistent, what, directory, "Use another copy of the export: this one was changed"};
}

/// The lines of a file; each ends with a line feed.
Result<std::vector<std::string>> lines_of(const std::string& path) {
    const auto text = read_file(path, largest_list);
    if (!text) return text.error();
    std::vector<std::string> lines;
    for (std::size_t begin = 0; begin < text->size();) {
        const std::size_t end = std::min(text->find('\n', begin), text->size());
        lines.push_back(text->substr(begin, end - begin));
        begin = end + 1;
    }
    return lines;
}

/// Reads a line of an export. Whoever wrote the sums anew may have put anything there.
class Line {
  public:
    Line(const std::string& line, bool deep)
        : object_(json::parse(deep ? line.substr(0, line.find(R"(,"body":)")) + "}" : line, nullptr, false)) {
    }
    [[nodiscard]] std::string text(const char* key) {
        if (object_.is_object() && object_.contains(key) && object_[key].is_string()) return object_[key];
        sound_ = false;
        return {};
    }
    [[nodiscard]] std::int64_t integer(const char* key) {
        if (object_.is_object() && object_.contains(key) && object_[key].is_number_integer())
            return object_[key];
        sound_ = false;
        return 0;
    }
    [[nodiscard]] bool truth(const char* key) {
        if (object_.is_object() && object_.contains(key) && object_[key].is_boolean()) return object_[key];
        sound_ = false;
        return false;
    }
    [[nodiscard]] bool sound() const { return sound_; }

  private:
    json object_;
    bool sound_ = true;
};

Result<Done> import_link(Database& ledger, const std::string& directory, const std::string& audit_line,
                         const std::vector<std::string>& entries, std::size_t& next_entry) {
    Line line(audit_line, false);
    const Link link{line.integer("number"), Instant{line.integer("at_ns")},
                    line.text("act") == "entry" ? Act::entry : Act::segment, line.text("content"),
                    line.text("sha256")};
    if (!line.sound()) return not_as_written(directory, "audit.jsonl has a line that is none");
    if (link.act == Act::segment) {
        if (link.content.size() != 64 ||
            link.content.find_first_not_of("0123456789abcdef") != std::string::npos)
            return not_as_written(directory, fmt::format("link {} names no segment", link.number));
        const auto bytes = read_file(directory + "/segments/" + link.content, largest_segment);
        if (!bytes) return bytes.error();
        const auto put = put_segment(ledger, *bytes, link.at);
        if (!put) return put.error();
    } else {
        if (next_entry == entries.size())
            return not_as_written(directory, fmt::format("the entry of link {} is missing", link.number));
        const std::string& text = entries[next_entry++];
        Line header(text, true);
        const std::size_t body = text.find(R"(,"body":)");
        const auto kind = kind_of(header.text("kind"));
        if (!kind || body == std::string::npos || !text.ends_with('}'))
            return not_as_written(directory, fmt::format("the entry of link {} is none", link.number));
        const Draft draft{*kind,
                          header.text("id"),
                          text.substr(body + 8, text.size() - body - 9),
                          header.text("who"),
                          header.text("why"),
                          header.truth("voided")};
        const auto put = put_entry(ledger, draft, link.at);
        if (!put) return put.error();
        if (line_of(*put).value() != text)
            return not_as_written(directory, fmt::format("the entry of link {} is another", link.number));
    }
    const auto last = head(ledger);
    if (!last) return last.error();
    if (line_of(*last) != audit_line)
        return not_as_written(directory,
                              fmt::format("link {} does not follow from what it stands for", link.number));
    return Done{};
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

Result<Done> compare_sums(const std::string& directory) {
    const auto sums = sums_of(directory);
    if (!sums) return sums.error();
    const auto listed = read_file(directory + "/" + sums_name, largest_list);
    if (!listed)
        return Error{Fault::bad_input, "is no export of a ledger: it has no SHA256SUMS", directory,
                     "Name the directory that 'ebbtide ledger export' made"};
    if (*listed != text_of(*sums))
        return not_as_written(directory,
                              "the files are not those that SHA256SUMS lists; 'sha256sum -c' names them");
    return Done{};
}

Result<Link> import_from(const std::string& directory, Database& ledger) {
    const auto compared = compare_sums(directory);
    if (!compared) return compared.error();
    const auto about_text = read_file(directory + "/ledger.json", 1 << 20);
    if (!about_text) return about_text.error();
    Line about(about_text->substr(0, about_text->find('\n')), false);
    if (about.text("schema") != schema)
        return Error{Fault::bad_input, "is no export of a ledger that this version knows", directory,
                     "Use the version of the program that wrote it, or a later one"};
    const auto links = lines_of(directory + "/audit.jsonl");
    if (!links) return links.error();
    const auto entries = lines_of(directory + "/entries.jsonl");
    if (!entries) return entries.error();

    auto writing = Writing::begin(ledger);
    if (!writing) return writing.error();
    const auto before = head(ledger);
    if (!before) return before.error();
    if (before->number > 0)
        return Error{Fault::bad_input, "holds something already", ledger.path(),
                     "Import into a new ledger: two chains cannot be joined"};
    std::size_t next_entry = 0;
    for (const std::string& line : *links) {
        const auto imported = import_link(ledger, directory, line, *entries, next_entry);
        if (!imported) return imported.error();
    }
    const auto last = head(ledger);
    if (!last) return last.error();
    if (about.text("head") != last->sha256 || next_entry != entries->size())
        return not_as_written(directory, "what is there does not lead to the head that ledger.json states");
    const auto done = writing->commit();
    if (!done) return done.error();
    return *last;
}

}  // namespace ebbtide::ledger
