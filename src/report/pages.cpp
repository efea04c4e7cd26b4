#include "report/pages.hpp"

namespace ebbtide::report {
namespace {

/// Height of the strips from `first` that must stay together.
double height_together(const std::vector<Strip>& strips, std::size_t first) {
    double height = 0;
    for (std::size_t i = first; i < strips.size(); ++i) {
        height += strips[i].height + (i == first ? 0 : strips[i].before);
        if (!strips[i].keep_with_next) break;
    }
    return height;
}

}  // namespace

std::vector<Page> paginate(const std::vector<Strip>& strips, double text_height) {
    std::vector<Page> pages(1);
    double y = 0;
    for (std::size_t i = 0; i < strips.size(); ++i) {
        const Strip& strip = strips[i];
        if (!pages.back().empty()) {
            const double together = height_together(strips, i);
            const double needed = together <= text_height ? together : strip.height;
            if (y + strip.before + needed > text_height) {
                pages.emplace_back();
                y = 0;
            }
        }
        if (pages.back().empty()) {
            if (strip.head) {
                pages.back().push_back({strip.head.get(), 0});
                y = strip.head->height;
            }
        } else {
            y += strip.before;
        }
        pages.back().push_back({&strip, y});
        y += strip.height;
    }
    return pages;
}

}  // namespace ebbtide::report
