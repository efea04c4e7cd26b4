#include "paperwork/heading.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

namespace ebbtide::paperwork {

plan::Apparatus read_apparatus(TableReader& top) {
    const std::string word = top.id("apparatus");
    if (const auto known = plan::apparatus_named(word)) return *known;
    std::vector<std::string> names;
    for (const plan::Apparatus one : plan::every_apparatus) names.emplace_back(plan::name_of(one));
    if (!word.empty())
        top.problem("apparatus", fmt::format("there is no apparatus '{}'", shortened(word)),
                    top.suggestion(word, names, fmt::format("Known: {}", fmt::join(names, ", "))));
    return plan::Apparatus::clamp_discharge;
}

}  // namespace ebbtide::paperwork
