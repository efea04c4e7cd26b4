#include "server/reply_head.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <utility>

namespace ebbtide::server {
namespace {

// Frames of the page itself (a preview of a report) may come from here; whoever frames this page may not.
constexpr std::pair<std::string_view, std::string_view> standing_headers[] = {
    {"Content-Security-Policy",
     "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data: blob:; "
     "connect-src 'self'; frame-src 'self'; form-action 'none'; base-uri 'none'; frame-ancestors 'self'"},
    {"X-Content-Type-Options", "nosniff"},
    {"Referrer-Policy", "no-referrer"},
    {"Cache-Control", "no-store"},
    {"X-Frame-Options", "SAMEORIGIN"},
    {"Cross-Origin-Opener-Policy", "same-origin"},
    {"Cross-Origin-Resource-Policy", "same-origin"},
};

/// RFC 9110, section 15: of the statuses that this server gives. Others may go without words.
std::string_view reason_of(int status) {
    switch (status) {
        case 200:
            return "OK";
        case 201:
            return "Created";
        case 303:
            return "See Other";
        case 400:
            return "Bad Request";
        case 401:
            return "Unauthorized";
        case 403:
            return "Forbidden";
        case 404:
            return "Not Found";
        case 405:
            return "Method Not Allowed";
        case 409:
            return "Conflict";
        case 413:
            return "Content Too Large";
        case 415:
            return "Unsupported Media Type";
        case 421:
            return "Misdirected Request";
        case 431:
            return "Request Header Fields Too Large";
        case 500:
            return "Internal Server Error";
        case 503:
            return "Service Unavailable";
        default:
            return "";
    }
}

bool printable(std::string_view text) {
    return std::ranges::all_of(text,
                               [](char c) { return static_cast<unsigned char>(c) >= 0x20 && c != 0x7F; });
}

bool same_name(std::string_view a, std::string_view b) {
    return std::ranges::equal(a, b, [](char x, char y) { return (x | 0x20) == (y | 0x20); });
}

}  // namespace

std::string reply_head(const Reply& reply, bool keep_alive) {
    std::string out = fmt::format("HTTP/1.1 {} {}\r\n", reply.status, reason_of(reply.status));
    const auto add = [&out](std::string_view name, std::string_view value) {
        if (printable(name) && printable(value))
            fmt::format_to(std::back_inserter(out), "{}: {}\r\n", name, value);
    };
    add("Content-Type", reply.type);
    for (const auto& standing : standing_headers)
        if (std::ranges::none_of(reply.headers,
                                 [&](const auto& own) { return same_name(own.first, standing.first); }))
            add(standing.first, standing.second);
    for (const auto& own : reply.headers) add(own.first, own.second);
    if (reply.status == 503) add("Retry-After", "1");
    add("Connection", keep_alive ? "keep-alive" : "close");
    return out;
}

}  // namespace ebbtide::server
