#include "recording/not_text.hpp"

#include <fmt/format.h>

namespace ebbtide::recording {

namespace {

// What other kinds of files begin with, so that the remedy can name what to do.
struct Signature {
    std::string_view begins;
    std::string_view what;
};
constexpr Signature signatures[] = {
    {"\x7F"
     "ELF",
     "a program"},
    {"\x89PNG", "a picture"},
    {"\xFF\xD8\xFF", "a picture"},
    {"GIF8", "a picture"},
    {"%PDF", "a PDF document"},
    {"PK\x03\x04", "a ZIP archive or a spreadsheet"},
    {"\xD0\xCF\x11\xE0", "a spreadsheet or another office document"},
    {"\x1F\x8B", "a gzip archive"},
    {"\x28\xB5\x2F\xFD", "a zstd archive"},
    {"RIFF", "a RIFF file that holds no sound"},
    {"SQLite format 3", "a database"},
};

}  // namespace

std::optional<Error> refuse_what_is_no_text(std::string_view head, const std::string& name) {
    const std::string remedy =
        "Export the recording as text: lines of numbers with , ; tab or blanks between them";
    if (head.empty())
        return Error{Fault::bad_input, "is empty (0 bytes of text)", name,
                     "Check that the recording was saved"};
    for (const Signature& signature : signatures)
        if (head.starts_with(signature.begins))
            return Error{Fault::bad_input, fmt::format("is {}, not text", signature.what), name, remedy};
    if (head.find_first_not_of('\0') == std::string_view::npos)
        return Error{Fault::bad_input, "holds nothing but zero bytes", name,
                     "The recorder reserved the file and never wrote to it; look for another copy"};
    const std::string_view first = head.substr(0, 1024);
    std::size_t control = 0, zeros = 0;
    const std::size_t printed_end = first.find_last_not_of('\0') + 1;
    for (const char c : first.substr(0, printed_end)) {
        zeros += c == '\0' ? 1 : 0;
        const auto byte = static_cast<unsigned char>(c);
        control +=
            byte < 0x20 && c != '\n' && c != '\r' && c != '\t' && c != '\f' && c != 0x1A && c != 0x1B ? 1 : 0;
    }
    if (zeros > 0 || control * 50 > printed_end)
        return Error{Fault::bad_input, "is binary, not text", name, remedy};
    return std::nullopt;
}

}  // namespace ebbtide::recording
