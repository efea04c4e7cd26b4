#pragma once
// What was understood of a text, as one sentence for people and for the record.

#include <string>

#include "recording/bytes.hpp"
#include "recording/channels.hpp"
#include "recording/layout.hpp"

namespace ebbtide::recording {

/// "UTF-8, ';' between columns, decimal comma, 2 lines above; time in column 1 'Zeit' in s; ..."
[[nodiscard]] std::string dialect_text(Encoding encoding, bool utf8, const Layout& layout,
                                       const ChannelPlan& plan);

}  // namespace ebbtide::recording
