#include "ledger/archive_files.hpp"

#include <fmt/format.h>

#include <filesystem>
#include <nlohmann/json.hpp>

#include "basis/sha256.hpp"
#include "ledger/canonical.hpp"
#include "ledger/durable_file.hpp"

namespace ebbtide::ledger {

namespace fs = std::filesystem;
using nlohmann::json;

std::string text_of(const Sums& sums) {
    std::string text;
    for (const auto& [name, sha256] : sums) text += sha256 + "  " + name + "\n";
    return text;
}

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

}  // namespace ebbtide::ledger
