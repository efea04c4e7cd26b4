#include "work/live_plan.hpp"

#include <algorithm>

namespace ebbtide::work {

using plan::Polarity;

std::vector<PlanPlace> places_of_plan(const plan::Order& order, const plan::Method& method,
                                      const std::string& conditions) {
    const std::vector<std::string> faces =
        method.faces.empty() ? std::vector<std::string>{"front"} : method.faces;
    const std::string& asked = method.charging.polarities;
    std::vector<Polarity> polarities;
    if (asked != "negative") polarities.push_back(Polarity::positive);
    if (asked == "negative" || asked == "both") polarities.push_back(Polarity::negative);
    std::vector<PlanPlace> places;
    for (const plan::Specimen& specimen : order.specimens)
        for (const std::string& face : faces)
            for (const Polarity polarity : polarities)
                for (int replicate = 1; replicate <= std::max(method.replicates, 1); ++replicate)
                    places.push_back(
                        {{specimen.id, face, conditions, polarity, replicate}, asked == "either"});
    return places;
}

std::optional<std::size_t> open_place(const std::vector<PlanPlace>& places, std::size_t from) {
    for (std::size_t i = 0; i < places.size(); ++i) {
        const std::size_t at = (from + i) % places.size();
        if (!places[at].filled) return at;
    }
    return {};
}

}  // namespace ebbtide::work
