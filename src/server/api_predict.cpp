// What a sheet of some resistivity would do on a bench, and which resistivity a decay time needs.

#include "paperwork/paperwork.hpp"
#include "plan/terms.hpp"
#include "server/fields.hpp"
#include "server/handlers.hpp"
#include "server/read_order.hpp"
#include "work/predict.hpp"

namespace ebbtide::server {
namespace {

/// The bench that is sent, or that of the order that is named.
Found<plan::Bench> bench_of(const Call& call, const std::string& order, const std::string& toml) {
    if (order.empty() == toml.empty())
        return {{},
                refused("one of 'order' and 'bench' says which bench is meant", "order", "Send one of them")};
    if (!toml.empty()) {
        auto bench = paperwork::parse_bench(toml, "bench");
        if (!bench) return {{}, refused(bench.error())};
        return {std::move(bench).value()};
    }
    const auto at = order_named(call.desk, order);
    if (!at) return {{}, at.instead};
    const auto read = read_order(at->key, at->folder);
    if (!read) return {{}, conflict(read.error())};
    if (!read->documents.bench)
        return {{},
                conflict({Fault::bad_input, "the order names no bench file", order + "/order.toml",
                          "Write near its top: bench = \"bench.toml\""})};
    return {*read->documents.bench};
}

}  // namespace

Reply predict_decay(const Call& call) {
    Fields fields(call.request);
    const std::string order = fields.text_or("order"), toml = fields.text_or("bench"),
                      levels = fields.text_or("levels", "10 %"), swept = fields.text_or("sweep");
    work::PredictRequest request;
    request.resistivity_ohm_sq = fields.number("surface_resistivity_ohm_sq");
    request.decay_s = fields.number("decay_time_s");
    request.meets_s = fields.number("meets_s");
    request.question.backing_capacitance_F_m2 = fields.number("backing_capacitance_F_m2");
    request.question.backed = fields.truth_or("backed", false);
    if (const auto problem = fields.problem()) return refused(*problem);
    auto parsed = plan::parse_levels_asked(levels);
    if (!parsed) return refused(parsed.error());
    request.levels = std::move(parsed).value();
    if (!swept.empty()) {
        const auto sweep = work::parse_sweep(swept);
        if (!sweep) return refused(sweep.error());
        request.sweep = *sweep;
    }
    const auto bench = bench_of(call, order, toml);
    if (!bench) return bench.instead;
    request.bench = *bench;
    const auto prediction = work::predict(request);
    if (!prediction) return refused(prediction.error());
    return json_reply(work::json_of(*prediction, request));
}

}  // namespace ebbtide::server
