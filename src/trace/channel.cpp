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
        case Notice::Kind::damaged:
            return "damaged";
        case Notice::Kind::torn_tail:
            return "torn_tail";
        case Notice::Kind::record_skipped:
            return "record_skipped";
        case Notice::Kind::samples_lost:
            return "samples_lost";
    }
    return "";
}

std::optional<Notice::Kind> notice_kind_named(std::string_view name) {
    for (int i = 0; i <= static_cast<int>(Notice::Kind::samples_lost); ++i)
        if (const auto kind = static_cast<Notice::Kind>(i); name_of(kind) == name) return kind;
    return {};
}

std::optional<Quantity> quantity_named(std::string_view name) {
    for (int i = 0; i <= static_cast<int>(Quantity::other); ++i)
        if (const auto quantity = static_cast<Quantity>(i); name_of(quantity) == name) return quantity;
    return {};
}

}  // namespace ebbtide::trace
