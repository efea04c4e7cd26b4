#include "work/notes.hpp"

#include <fcntl.h>
#include <fmt/format.h>
#include <unistd.h>

#include <filesystem>
#include <nlohmann/json.hpp>

#include "work/order_files.hpp"

namespace ebbtide::work {
namespace {

using nlohmann::json;

constexpr std::uint64_t largest_notes = 64u << 20;

Error not_written(const std::string& path) {
    return {Fault::unreadable, "cannot be written", path,
            "Check that the folder is there, writable and not full"};
}

/// Whole lines only: what a loss of power left of one is ended first.
Result<Done> append_line(const std::string& path, std::string line) {
    const int file = ::open(path.c_str(), O_RDWR | O_CREAT | O_APPEND | O_CLOEXEC | O_NOFOLLOW, 0644);
    if (file < 0) return not_written(path);
    char last = '\n';
    const off_t end = ::lseek(file, 0, SEEK_END);
    bool ok = end <= 0 || ::pread(file, &last, 1, end - 1) == 1;
    if (last != '\n') line.insert(0, "\n");
    line += '\n';
    for (std::size_t done = 0; ok && done < line.size();) {
        const ssize_t written = ::write(file, line.data() + done, line.size() - done);
        ok = written > 0;
        if (ok) done += static_cast<std::size_t>(written);
    }
    ok = ok && ::fsync(file) == 0;
    ok = ::close(file) == 0 && ok;
    if (!ok) return not_written(path);
    return Done{};
}

Result<Note> note_in(const std::string& line, const std::string& where) {
    const json one = json::parse(line, nullptr, false);
    const Error other{Fault::bad_input, "this line is no note", where,
                      "Notes are appended by 'ebbtide serve'"};
    if (!one.is_object()) return other;
    Note note;
    for (const auto& [key, text] : {std::pair{"run", &note.run}, {"who", &note.who}, {"text", &note.text}}) {
        if (!one.contains(key) || !one[key].is_string()) return other;
        *text = one[key].get<std::string>();
    }
    if (!one.contains("at") || !one["at"].is_string()) return other;
    const auto at = parse_instant(one["at"].get<std::string>());
    if (!at) return other;
    note.at = *at;
    return note;
}

}  // namespace

std::string note_line(const Note& note) {
    return json({{"schema", "ebbtide.note/1"},
                 {"at", iso_text(note.at)},
                 {"run", note.run},
                 {"who", note.who},
                 {"text", note.text}})
        .dump();
}

Result<std::vector<Note>> notes_in(const std::string& folder) {
    const std::string path = folder + "/" + notes_file;
    std::error_code none;
    std::vector<Note> notes;
    if (!std::filesystem::exists(path, none)) return notes;
    const auto text = read_whole(path, largest_notes);
    if (!text) return text.error();
    std::size_t number = 0;
    for (std::size_t at = 0; at < text->size();) {
        const std::size_t end = text->find('\n', at);
        const bool whole = end != std::string::npos;
        const std::string line = text->substr(at, whole ? end - at : std::string::npos);
        at = whole ? end + 1 : text->size();
        ++number;
        if (line.empty()) continue;
        auto note = note_in(line, fmt::format("{}:{}", notes_file, number));
        // A line that was torn is not JSON; one that is, is no note of ours.
        if (!note && !json::accept(line)) continue;
        if (!note) return note.error();
        notes.push_back(std::move(note).value());
    }
    return notes;
}

Result<Done> add_note(const std::string& folder, const Note& note) {
    if (note.who.empty() || note.who.size() > 200)
        return Error{Fault::bad_input, "a note has an author", "who", "Give initials or a name"};
    if (note.text.empty() || note.text.size() > longest_note)
        return Error{Fault::bad_input,
                     fmt::format("a note has 1 to {} bytes; got {}", longest_note, note.text.size()), "text",
                     "Say it in fewer words, or in several notes"};
    return append_line(folder + "/" + notes_file, note_line(note));
}

}  // namespace ebbtide::work
