// ebbtide.predict/1: docs/formats/predict.md.

#include "record/json.hpp"
#include "work/predict.hpp"

namespace ebbtide::work {
namespace {

using nlohmann::json;
using record::or_null;

json predicted_json(const Predicted& one) {
    json out = {{"at", one.at},
                {"surface_resistivity_ohm_sq", one.resistivity_ohm_sq},
                {"time_constant_s", one.time_constant_s},
                {"capacitance_F_m2", one.capacitance_F_m2},
                {"induced_fraction", one.induced_fraction},
                {"levels", json::array()},
                {"meets", or_null(one.meets)}};
    for (const PredictedLevel& level : one.levels)
        out["levels"].push_back({{"level", level.level.text},
                                 {"decay_s", level.decay_s},
                                 {"after_release_s", level.after_release_s},
                                 {"other_decay_s", or_null(level.other_decay_s)}});
    return out;
}

}  // namespace

nlohmann::json json_of(const Prediction& prediction, const PredictRequest& request) {
    json out = {{"schema", "ebbtide.predict/1"},
                {"operator", name_of(prediction.used)},
                {"capacitance_source", name_of(prediction.source)},
                {"u_capacitance", prediction.u_capacitance},
                {"caution", prediction.caution},
                {"asked", prediction.asked ? predicted_json(*prediction.asked) : json()},
                {"other_surface_resistivity_ohm_sq", or_null(prediction.other_resistivity_ohm_sq)},
                {"swept", prediction.what ? json(name_of(*prediction.what)) : json()},
                {"sweep", json::array()},
                {"meets_s", or_null(request.meets_s)},
                {"highest_that_meets_ohm_sq", or_null(prediction.highest_that_meets_ohm_sq)},
                {"contact_ohm_m", request.contact_ohm_m},
                {"map", nullptr}};
    for (const Predicted& one : prediction.swept) out["sweep"].push_back(predicted_json(one));
    return out;
}

}  // namespace ebbtide::work
