#include "server/target.hpp"

#include "ledger/canonical.hpp"

namespace ebbtide::server {
namespace {

int hex_digit(char c) {
    if (c >= '0' && c <= '9') return c - '0';
    if (c >= 'a' && c <= 'f') return c - 'a' + 10;
    if (c >= 'A' && c <= 'F') return c - 'A' + 10;
    return -1;
}

bool is_control(char c) {
    const auto byte = static_cast<unsigned char>(c);
    return byte < 0x20 || byte == 0x7F;
}

std::optional<std::string> decoded(std::string_view text, bool in_path) {
    std::string out;
    for (std::size_t i = 0; i < text.size(); ++i) {
        char c = text[i];
        if (c == '%') {
            if (i + 2 >= text.size()) return {};
            const int high = hex_digit(text[i + 1]), low = hex_digit(text[i + 2]);
            if (high < 0 || low < 0) return {};
            c = static_cast<char>(high * 16 + low);
            i += 2;
            if (in_path && c == '/') return {};
        } else if (c == '+' && !in_path) {
            c = ' ';
        }
        if (is_control(c) || (in_path && c == '\\')) return {};
        out += c;
    }
    if (ledger::fault_of_text(out, "")) return {};  // no UTF-8
    return out;
}

/// Whether every segment is a name. The last may be empty.
bool all_names(std::string_view path) {
    path.remove_prefix(1);
    for (;;) {
        const std::size_t end = path.find('/');
        const std::string_view segment = path.substr(0, end);
        if (segment == "." || segment == "..") return false;
        if (end == std::string_view::npos) return true;
        if (segment.empty()) return false;
        path.remove_prefix(end + 1);
    }
}

}  // namespace

std::optional<Target> parse_target(std::string_view target) {
    if (!target.starts_with('/')) return {};
    const std::size_t question = target.find('?');
    const auto path = decoded(target.substr(0, question), true);
    if (!path || !all_names(*path)) return {};
    Target out;
    out.path = *path;
    std::string_view rest = question == std::string_view::npos ? "" : target.substr(question + 1);
    while (!rest.empty()) {
        const std::size_t end = rest.find('&');
        const std::string_view pair = rest.substr(0, end);
        rest = end == std::string_view::npos ? "" : rest.substr(end + 1);
        if (pair.empty()) continue;
        const std::size_t equals = pair.find('=');
        const auto name = decoded(pair.substr(0, equals), false);
        const auto value = decoded(equals == std::string_view::npos ? "" : pair.substr(equals + 1), false);
        if (!name || !value) return {};
        out.query[*name] = *value;
    }
    return out;
}

}  // namespace ebbtide::server
