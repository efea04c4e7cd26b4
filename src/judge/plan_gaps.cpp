#include "judge/plan_gaps.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <map>
#include <set>

namespace ebbtide::judge {
namespace {

/// What runs of one setting share, and what was planned for it.
struct Setting {
    std::set<int> replicates_positive, replicates_negative;
};

bool planned(const JudgedRun& run) {
    return !run.without_specimen &&
           std::ranges::find(run.flags, plan::FlagCode::run_unplanned, &plan::Flag::code) == run.flags.end();
}

}  // namespace

std::vector<std::string> plan_gaps(std::span<const JudgedRun> runs, const plan::Order& order,
                                   const plan::Method& method) {
    std::map<std::string, Setting> settings;
    std::map<std::string, std::set<std::string>> faces_of;
    std::set<std::string> directions;
    std::map<std::pair<std::string, std::string>, std::set<std::string>> specimens;  // by direction and state
    for (const JudgedRun& run : runs) {
        if (!planned(run)) continue;
        Setting& setting =
            settings[fmt::format("{} {} {}", run.key.specimen, run.key.face, run.key.conditions)];
        const bool positive = run.key.polarity == plan::Polarity::positive;
        (positive ? setting.replicates_positive : setting.replicates_negative).insert(run.key.replicate);
        faces_of[run.key.specimen].insert(run.key.face);
        if (const plan::Specimen* specimen = order.specimen(run.key.specimen)) {
            directions.insert(specimen->direction);
            specimens[{specimen->direction, specimen->state}].insert(specimen->id);
        }
    }

    std::vector<std::string> gaps;
    for (const auto& entry : settings) {
        const std::string& label = entry.first;
        const Setting& setting = entry.second;
        const auto check = [&](const std::set<int>& replicates, const char* sign, bool asked) {
            const auto wanted = static_cast<std::size_t>(std::max(method.replicates, 1));
            if ((replicates.empty() && !asked) || replicates.size() >= wanted) return;
            gaps.push_back(
                fmt::format("{} {}: {} of {} replicates planned", label, sign, replicates.size(), wanted));
        };
        const std::string& polarities = method.charging.polarities;
        check(setting.replicates_positive, "+", polarities == "both" || polarities == "positive");
        check(setting.replicates_negative, "-", polarities == "both" || polarities == "negative");
    }
    for (const auto& [specimen, faces] : faces_of)
        for (const std::string& face : method.faces)
            if (!faces.contains(face))
                gaps.push_back(fmt::format("{}: face '{}' is not planned", specimen, face));
    for (const std::string& direction : method.directions)
        if (!directions.contains(direction))
            gaps.push_back(fmt::format("no specimen of direction '{}' is planned", direction));
    for (const auto& [kind, ids] : specimens)
        if (ids.size() < static_cast<std::size_t>(std::max(method.specimens, 1)))
            gaps.push_back(fmt::format("{}{}{}: {} of {} specimens planned", kind.first,
                                       kind.first.empty() ? "" : ", ", kind.second, ids.size(),
                                       method.specimens));
    return gaps;
}

}  // namespace ebbtide::judge
