#include <fmt/format.h>

#include <nlohmann/json.hpp>

#include "ledger/archive.hpp"
#include "ledger/archive_files.hpp"
#include "ledger/durable_file.hpp"
#include "ledger/segments.hpp"

namespace ebbtide::ledger {
namespace {

using nlohmann::json;

/// Bytes of SHA256SUMS: some forty million files.
constexpr std::uint64_t largest_list = std::uint64_t{4} << 30;

Error not_as_written(const std::string& directory, const std::string& what) {
    return {Fault::inconsistent, what, directory, "Use another copy of the export: this one was changed"};
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
                         LineFile& entries) {
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
        const auto next = entries.next();
        if (!next) return next.error();
        if (!*next)
            return not_as_written(directory, fmt::format("the entry of link {} is missing", link.number));
        const std::string& text = **next;
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
    if (about.text("schema") != export_schema)
        return Error{Fault::bad_input, "is no export of a ledger that this version knows", directory,
                     "Use the version of the program that wrote it, or a later one"};
    auto links = LineFile::open(directory + "/audit.jsonl");
    if (!links) return links.error();
    auto entries = LineFile::open(directory + "/entries.jsonl");
    if (!entries) return entries.error();

    auto writing = Writing::begin(ledger);
    if (!writing) return writing.error();
    const auto before = head(ledger);
    if (!before) return before.error();
    if (before->number > 0)
        return Error{Fault::bad_input, "holds something already", ledger.path(),
                     "Import into a new ledger: two chains cannot be joined"};
    for (;;) {
        const auto line = links->next();
        if (!line) return line.error();
        if (!*line) break;
        const auto imported = import_link(ledger, directory, **line, *entries);
        if (!imported) return imported.error();
    }
    const auto more = entries->next();
    if (!more) return more.error();
    const auto last = head(ledger);
    if (!last) return last.error();
    if (about.text("head") != last->sha256 || *more)
        return not_as_written(directory, "what is there does not lead to the head that ledger.json states");
    const auto done = writing->commit();
    if (!done) return done.error();
    return *last;
}

}  // namespace ebbtide::ledger
