#pragma once
// What is asked of the server and what it answers, without the wire: connection.cpp reads and writes it,
// handlers see nothing else.

#include <map>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

#include <nlohmann/json.hpp>

#include "basis/result.hpp"

namespace ebbtide::server {

/// A request that passed the guard (guard.hpp): who sends it holds the token, and means this server.
struct Request {
    std::string method;  ///< "GET", "POST"; HEAD arrives as GET
    std::string path;    ///< begins with '/', decoded once; holds no "..", no backslash, no control character
    std::map<std::string, std::string> query;  ///< decoded, + is a blank; of a name that comes twice the last
    std::string body;                          ///< bounded: 1 MiB, imports 64 MiB
    std::string content_type;                  ///< without parameters, in small letters
};

struct Reply {
    int status = 200;
    std::string type = "application/json";
    std::string body;
    /// Further headers. One that the server sets by itself (Content-Security-Policy, Cache-Control) is
    /// replaced by one of the same name here.
    std::vector<std::pair<std::string, std::string>> headers = {};
};

[[nodiscard]] inline Reply json_reply(const nlohmann::json& body, int status = 200) {
    // Bytes that are no UTF-8 (names of files) must not throw.
    return {
        status, "application/json", body.dump(-1, ' ', false, nlohmann::json::error_handler_t::replace), {}};
}

/// ebbtide.error/1. `where` and `remedy` may be empty.
[[nodiscard]] inline Reply error_reply(int status, const Error& error) {
    return json_reply({{"schema", "ebbtide.error/1"},
                       {"what", error.what},
                       {"where", error.where},
                       {"remedy", error.remedy}},
                      status);
}

/// By its fault: 400 for what was sent, 409 where that does not agree with what lies on the disk or goes on,
/// 500 for a disk that fails and for our own fault.
[[nodiscard]] inline Reply error_reply(const Error& error) {
    return error_reply(error.code == Fault::bad_input      ? 400
                       : error.code == Fault::inconsistent ? 409
                                                           : 500,
                       error);
}

}  // namespace ebbtide::server
