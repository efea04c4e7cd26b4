#include "work/toml_text.hpp"

#include <fmt/format.h>

namespace ebbtide::work {

std::string toml_text(std::string_view text) {
    std::string out = "\"";
    for (const char c : text) {
        if (c == '"' || c == '\\') out += '\\';
        if (static_cast<unsigned char>(c) < 0x20 || c == 0x7F)
            out += fmt::format("\\u{:04x}", static_cast<unsigned char>(c));
        else
            out += c;
    }
    return out + '"';
}

}  // namespace ebbtide::work
