#include "work/notices.hpp"

#include <algorithm>

namespace ebbtide::work {
namespace {

constexpr std::ptrdiff_t damages_most = 32;

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

}  // namespace ebbtide::work
