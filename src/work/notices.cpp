#include "work/notices.hpp"

#include <fmt/format.h>

#include <algorithm>

namespace ebbtide::work {
namespace {

using plan::FlagCode;
using trace::Notice;

constexpr std::ptrdiff_t damages_most = 32;

std::optional<FlagCode> flag_code_of(Notice::Kind kind) {
    switch (kind) {
        case Notice::Kind::value_missing:
            return FlagCode::values_missing;
        case Notice::Kind::time_gap:
            return FlagCode::time_gap;
        case Notice::Kind::time_backwards:
            return FlagCode::time_ran_backwards;
        case Notice::Kind::time_repeated:
            return FlagCode::time_repeated;
        case Notice::Kind::torn_last_line:
            return FlagCode::torn_last_line;
        case Notice::Kind::clipped:
            return FlagCode::clipped;
        case Notice::Kind::damaged:
            return FlagCode::recording_damaged;
        case Notice::Kind::torn_tail:
            return FlagCode::torn_tail;
        case Notice::Kind::samples_lost:
            return FlagCode::samples_lost;
        case Notice::Kind::text_between:
        case Notice::Kind::record_skipped:
            return {};
    }
    return {};
}

std::string message_of(const Notice& notice) {
    std::string where = notice.line > 0 ? fmt::format("Line {}", notice.line) : "";
    if (notice.column > 0) where += fmt::format("{}olumn {}", where.empty() ? "C" : ", c", notice.column);
    const std::string more = notice.count > 1 ? fmt::format(" ({} like it)", notice.count) : "";
    std::string text = fmt::format("{}{}{}{}.", where, where.empty() ? "" : ": ", notice.text, more);
    if (text[0] >= 'a' && text[0] <= 'z') text[0] = static_cast<char>(text[0] - 'a' + 'A');
    return text;
}

}  // namespace

void count_in(std::vector<trace::Notice>& kept, const trace::Notice& notice) {
    const auto like = [&](const trace::Notice& n) {
        return n.kind == notice.kind && n.column == notice.column;
    };
    if (notice.kind == trace::Notice::Kind::damaged) {
        const auto same = [&](const trace::Notice& n) { return like(n) && n.text == notice.text; };
        if (std::ranges::find_if(kept, same) != kept.end()) return;
        if (std::ranges::count_if(kept, like) < damages_most) {
            kept.push_back(notice);
            return;
        }
    }
    const auto found = std::find_if(kept.rbegin(), kept.rend(), like);
    if (found == kept.rend())
        kept.push_back(notice);
    else
        found->count += notice.count;
}

std::optional<plan::Flag> flag_of(const trace::Notice& notice) {
    const auto code = flag_code_of(notice.kind);
    if (!code) return {};
    return plan::Flag(*code, message_of(notice));
}

}  // namespace ebbtide::work
