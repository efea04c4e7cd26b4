#include "trace/channel.hpp"

namespace ebbtide::trace {

std::string_view name_of(Notice::Kind kind) {
    switch (kind) {
        case Notice::Kind::value_missing:
            return "value_missing";
        case Notice::Kind::time_gap:
            return "time_gap";
        case Notice::Kind::time_backwards:
            return "time_backwards";
        case Notice::Kind::time_repeated:
            return "time_repeated";
        case Notice::Kind::torn_last_line:
            return "torn_last_line";
        case Notice::Kind::text_between:
            return "text_between";
        case Notice::Kind::clipped:
            return "clipped";
    }
    return "";
}

}  // namespace ebbtide::trace
