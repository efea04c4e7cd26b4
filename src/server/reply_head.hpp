#pragma once
// How a reply begins on the wire. Pure.

#include <string>
#include <string_view>

#include "server/request.hpp"

namespace ebbtide::server {

/// Status line and headers, the standing ones among them, each line with its end; the length of the body and
/// the empty line are left to who knows them. A header with a control character is left out: a line break in
/// the name of a file would begin a header of somebody else's.
[[nodiscard]] std::string reply_head(const Reply& reply, bool keep_alive);

}  // namespace ebbtide::server
