#pragma once
// Dated notes on the runs of an order, in its folder: appended, never changed. docs/formats/page.md.

#include <string>
#include <vector>

#include "basis/instant.hpp"
#include "basis/result.hpp"

namespace ebbtide::work {

inline constexpr const char* notes_file = "notes.jsonl";
inline constexpr std::size_t longest_note = 4000;  ///< bytes

struct Note {
    Instant at;
    std::string run;  ///< id
    std::string who;
    std::string text;
};

/// All notes of the order, oldest first; none where there is no such file. A last line that was torn by a
/// loss of power is left out. Error: the file holds something else.
[[nodiscard]] Result<std::vector<Note>> notes_in(const std::string& folder);

/// Appends the note and waits until the disk has it. Errors: no name; no text, or a longer one; the folder
/// cannot be written.
[[nodiscard]] Result<Done> add_note(const std::string& folder, const Note& note);

/// The note as its line has it.
[[nodiscard]] std::string note_line(const Note& note);

}  // namespace ebbtide::work
