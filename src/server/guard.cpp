#include "server/guard.hpp"

#include <fmt/format.h>
#include <sys/random.h>

#include <algorithm>
#include <array>
#include <stdexcept>

namespace ebbtide::server {
namespace {

char small(char c) {
    return c >= 'A' && c <= 'Z' ? static_cast<char>(c - 'A' + 'a') : c;
}

bool same_word(std::string_view a, std::string_view b) {
    return std::ranges::equal(a, b, [](char x, char y) { return small(x) == small(y); });
}

std::string_view trimmed(std::string_view text) {
    while (!text.empty() && (text.front() == ' ' || text.front() == '\t')) text.remove_prefix(1);
    while (!text.empty() && (text.back() == ' ' || text.back() == '\t')) text.remove_suffix(1);
    return text;
}

/// The value of the first cookie of this name. A second one of the name is not ours: we set one path only.
std::optional<std::string_view> cookie_named(std::string_view name, std::string_view cookies) {
    while (!cookies.empty()) {
        const std::size_t end = cookies.find(';');
        const std::string_view one = trimmed(cookies.substr(0, end));
        cookies = end == std::string_view::npos ? "" : cookies.substr(end + 1);
        const std::size_t equals = one.find('=');
        if (equals != std::string_view::npos && one.substr(0, equals) == name) return one.substr(equals + 1);
    }
    return {};
}

std::optional<std::string_view> bearer_of(std::optional<std::string_view> authorization) {
    constexpr std::string_view scheme = "Bearer ";
    if (!authorization || authorization->size() < scheme.size() ||
        !same_word(authorization->substr(0, scheme.size()), scheme))
        return {};
    return trimmed(authorization->substr(scheme.size()));
}

Refusal refusal(int status, std::string what, std::string remedy) {
    return {status, {Fault::bad_input, std::move(what), "", std::move(remedy)}};
}

}  // namespace

std::string new_token() {
    std::array<unsigned char, 16> bytes{};
    if (::getrandom(bytes.data(), bytes.size(), 0) != static_cast<ssize_t>(bytes.size()))
        throw std::runtime_error("the system gives no random numbers");
    std::string token;
    for (const unsigned char byte : bytes) token += fmt::format("{:02x}", byte);
    return token;
}

bool same_token(std::string_view given, std::string_view token) {
    if (given.size() != token.size() || token.empty()) return false;
    // Volatile: the loop may not end early once the answer is known.
    volatile unsigned char differs = 0;
    for (std::size_t i = 0; i < token.size(); ++i)
        differs = static_cast<unsigned char>(
            differs | (static_cast<unsigned char>(given[i]) ^ static_cast<unsigned char>(token[i])));
    return differs == 0;
}

std::string media_type(std::string_view content_type) {
    std::string type(trimmed(content_type.substr(0, content_type.find(';'))));
    std::ranges::transform(type, type.begin(), small);
    return type;
}

Guard::Guard(std::string token, std::uint16_t port)
    : token_(std::move(token)), cookie_name_(fmt::format("ebbtide_{}", port)), port_(port) {}

bool Guard::own_host(std::string_view host) const {
    for (const std::string_view name : {"127.0.0.1", "localhost", "[::1]"}) {
        if (same_word(host, fmt::format("{}:{}", name, port_))) return true;
        // The usual port of HTTP is left out by everybody.
        if (port_ == 80 && same_word(host, name)) return true;
    }
    return false;
}

std::optional<Refusal> Guard::misdirected(const Head& head) const {
    if (!head.host || !own_host(*head.host))
        return refusal(421, "the request names another host than this server",
                       "Open the address that 'ebbtide serve' printed");
    constexpr std::string_view scheme = "http://";
    if (head.origin && !(head.origin->starts_with(scheme) && own_host(head.origin->substr(scheme.size()))))
        return refusal(403, "the request comes from another page than this server's",
                       "Open the address that 'ebbtide serve' printed");
    return {};
}

std::optional<Refusal> Guard::refuses(const Head& head) const {
    if (auto wrong = misdirected(head)) return wrong;
    const bool reads = head.method == "GET" || head.method == "HEAD";
    if (!reads && head.method != "POST") return refusal(405, "this server hears GET, HEAD and POST", "");
    const auto bearer = bearer_of(head.authorization);
    const auto cookie = cookie_named(cookie_name_, head.cookie.value_or(""));
    if (!(bearer && same_token(*bearer, token_)) && !(!bearer && cookie && same_token(*cookie, token_)))
        return refusal(401, "the request does not hold the token of this launch",
                       "Open the address that 'ebbtide serve' printed when it was started last");
    if (reads) return {};
    if (!bearer && !head.origin)
        return refusal(403, "a request that changes something must say where it comes from",
                       "Send Origin, or the token as Authorization: Bearer");
    const bool import = head.path == import_path;
    const std::string_view wanted = import ? "application/octet-stream" : "application/json";
    if (media_type(head.content_type.value_or("")) != wanted)
        return refusal(415, fmt::format("the body is not said to be {}", wanted), "Send Content-Type");
    return {};
}

std::optional<Refusal> Guard::refuses_entry(const Head& head, std::string_view token) const {
    if (auto wrong = misdirected(head)) return wrong;
    if (head.method != "GET" && head.method != "HEAD")
        return refusal(405, "the token opens this server by GET", "");
    if (!same_token(token, token_))
        return refusal(401, "this is not the token of this launch",
                       "Open the address that 'ebbtide serve' printed when it was started last");
    return {};
}

std::string Guard::cookie() const {
    return fmt::format("{}={}; HttpOnly; SameSite=Strict; Path=/", cookie_name_, token_);
}

}  // namespace ebbtide::server
