#include "server/order_json.hpp"

#include <algorithm>

#include "record/json.hpp"

namespace ebbtide::server {

using nlohmann::json;
using record::or_null;

json key_json(const plan::RunKey& key) {
    return {{"specimen", key.specimen},     {"face", key.face},
            {"conditions", key.conditions}, {"polarity", plan::sign_of(key.polarity)},
            {"replicate", key.replicate},   {"label", key.label()}};
}

json place_json(const work::OrderPlace& place, bool live) {
    json out = key_json(place.key);
    out["state"] = work::name_of(place.state);
    out["run"] = place.runs.empty() ? json() : json(place.runs.back());
    out["runs"] = place.runs;
    out["index"] = live && place.index ? json(*place.index) : json();
    return out;
}

json crossing_json(const decay::LevelFigure& level) {
    return {{"level", level.level.label()},           {"level_V", level.level_V},
            {"status", decay::name_of(level.status)}, {"decay_s", or_null(level.decay_s)},
            {"u_decay_s", or_null(level.u_decay_s)},  {"at_least_s", or_null(level.at_least_s)},
            {"at_most_s", or_null(level.at_most_s)}};
}

json trace_json(const std::string& run, const report::PlotTrace& trace, std::size_t points) {
    // Of each stretch of points the lowest and the highest, as when the plot was thinned.
    std::vector<std::size_t> kept;
    const std::size_t count = trace.time_s.size(), stretches = std::max<std::size_t>(points / 2, 1);
    if (count <= points) {
        for (std::size_t i = 0; i < count; ++i) kept.push_back(i);
    } else {
        for (std::size_t k = 0; k < stretches; ++k) {
            const auto first = trace.specimen_V.begin() + static_cast<std::ptrdiff_t>(k * count / stretches),
                       last = trace.specimen_V.begin() +
                              static_cast<std::ptrdiff_t>((k + 1) * count / stretches);
            if (first == last) continue;
            const auto [low, high] = std::minmax_element(first, last);
            kept.push_back(static_cast<std::size_t>(std::min(low, high) - trace.specimen_V.begin()));
            if (low != high)
                kept.push_back(static_cast<std::size_t>(std::max(low, high) - trace.specimen_V.begin()));
        }
    }
    json time = json::array(), specimen = json::array(), electrode = json::array();
    const bool both = trace.electrode_V.size() == count && count > 0;
    for (const std::size_t i : kept) {
        time.push_back(trace.time_s[i]);
        specimen.push_back(trace.specimen_V[i]);
        if (both) electrode.push_back(trace.electrode_V[i]);
    }
    return {{"run", run},
            {"time_s", std::move(time)},
            {"specimen_V", std::move(specimen)},
            {"electrode_V", both ? std::move(electrode) : json()}};
}

json date_json(const std::optional<Date>& date) {
    return date ? json(iso_text(*date)) : json();
}

json instant_json(const std::optional<Instant>& instant) {
    return instant ? json(iso_text(*instant)) : json();
}

}  // namespace ebbtide::server
