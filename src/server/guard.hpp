#pragma once
// Who is heard: the token of this launch, and that the request was meant for this server. Any program and any
// page in any browser of this computer can reach a loopback port; kilovolts hang on it. Pure.

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>

#include "basis/result.hpp"

namespace ebbtide::server {

/// What the head of a request says of where it comes from. A header that came more than once is given as
/// `twice`, which nothing accepts.
struct Head {
    static constexpr std::string_view twice = "\n";
    std::string_view method, path;  ///< of the path nothing is asked here but which bodies it takes
    std::optional<std::string_view> host, origin, cookie, authorization, content_type;
};

/// Why a request is not heard, with the status that says so.
struct Refusal {
    int status = 403;
    Error error;
};

/// 128 bits that nobody can guess, as 32 hexadecimal digits. Throws where the system gives no random numbers.
[[nodiscard]] std::string new_token();

/// Takes as long whatever the first difference is; only the length of `given` shows.
[[nodiscard]] bool same_token(std::string_view given, std::string_view token);

/// Lower case, without parameters: "application/json" of "Application/JSON; charset=utf-8".
[[nodiscard]] std::string media_type(std::string_view content_type);

/// Path of the one request whose body is not JSON.
inline constexpr std::string_view import_path = "/api/imports";

/// Any number of threads.
class Guard {
  public:
    Guard(std::string token, std::uint16_t port);

    /// Nothing when the request is heard:
    /// - Host is 127.0.0.1, localhost or [::1] with our port (a name that was made to point here is none of
    ///   them);
    /// - Origin, where there is one, is http:// and one of these;
    /// - the method is GET, HEAD or POST;
    /// - the cookie, or "Authorization: Bearer", holds the token;
    /// - a POST has an Origin or a Bearer, and a body of JSON, or of bytes where a recording is imported.
    [[nodiscard]] std::optional<Refusal> refuses(const Head& head) const;

    /// The same of the first request, which brings the token in its query and gets the cookie.
    [[nodiscard]] std::optional<Refusal> refuses_entry(const Head& head, std::string_view token) const;

    /// "ebbtide_PORT=TOKEN; HttpOnly; SameSite=Strict; Path=/". The port is in its name: cookies of one host
    /// are shared by its ports.
    [[nodiscard]] std::string cookie() const;
    [[nodiscard]] const std::string& token() const { return token_; }

  private:
    [[nodiscard]] std::optional<Refusal> misdirected(const Head& head) const;
    [[nodiscard]] bool own_host(std::string_view host) const;

    std::string token_, cookie_name_;
    std::uint16_t port_;
};

}  // namespace ebbtide::server
