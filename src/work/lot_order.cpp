#include "work/lot_order.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "judge/statistic.hpp"

namespace ebbtide::work {
namespace {

/// A group of runs while it is gathered.
struct Gathered {
    OrderLot lot;
    LotRequest request;
    std::vector<LotTime> times;
    std::vector<std::string> left_out;
    bool failed_specimen = false;
};

/// "Roll 7, warp, as received": what tells one population from another.
std::string population_of(const plan::Order& order, const plan::Specimen* specimen) {
    std::string out;
    const auto add = [&](const std::string& part) {
        if (!part.empty()) out += (out.empty() ? "" : ", ") + part;
    };
    if (specimen != nullptr) {
        const auto item = std::ranges::find(order.items, specimen->item, &plan::Item::id);
        if (item != order.items.end()) add(item->lot.empty() ? item->id : item->lot);
        add(specimen->direction);
        add(specimen->state);
    }
    return out.empty() ? "all specimens" : out;
}

Gathered& gathered_for(std::vector<Gathered>& all, const plan::Order& order,
                       const plan::Requirement& requirement, const std::string& population,
                       const LotRequest& request) {
    const auto found = std::ranges::find_if(all, [&](const Gathered& one) {
        return one.lot.requirement == requirement.id && one.lot.sentence == plan::sentence(requirement) &&
               one.lot.group == population;
    });
    const bool first = found == all.end();
    Gathered& out = first ? all.emplace_back() : *found;
    if (first) {
        out.lot.requirement = requirement.id;
        out.lot.sentence = plan::sentence(requirement);
        out.lot.group = population;
        out.lot.sampling_plan = order.sampling_plan;
        out.lot.level = requirement.level;
        out.request = request;
        out.request.limit_s = requirement.limit_s;
        if (request.history && request.history->level &&
            !plan::asks_for(requirement, *request.history->level))
            out.request.history.reset();
    }
    if (std::ranges::find(out.lot.orders, order.id) == out.lot.orders.end()) {
        out.lot.orders.push_back(order.id);
        if (order.sampling_plan.empty())
            out.request.no_claim = fmt::format(
                "order {} states no sampling plan, so nobody knows what its specimens stand for", order.id);
    }
    return out;
}

void gather(const record::OrderRecord& record, const plan::Requirement& requirement,
            const LotRequest& request, std::vector<Gathered>& all) {
    const plan::Order& order = record.order;
    for (const judge::JudgedRun& run : record.judgement.runs) {
        if (run.without_specimen || !(run.counts || run.fails)) continue;
        const plan::Specimen* specimen = order.specimen(run.key.specimen);
        Gathered& group = gathered_for(all, order, requirement, population_of(order, specimen), request);
        const decay::LevelFigure* figure = judge::figure_at(run, requirement.level);
        const auto observation = figure != nullptr && !run.fails ? observation_of(*figure) : std::nullopt;
        if (!observation) {
            group.failed_specimen = group.failed_specimen || run.fails;
            group.left_out.push_back(fmt::format("{} {}: {}", order.id, run.key.label(),
                                                 run.fails           ? "failed by a flag"
                                                 : figure == nullptr ? "no decay time to this level"
                                                                     : figure->reason));
            continue;
        }
        group.times.push_back({*observation,
                               order.id + " " + run.key.specimen,
                               static_cast<double>(run.key.replicate),
                               {},
                               run.key.face,
                               plan::sign_of(run.key.polarity)});
    }
}

}  // namespace

std::optional<stats::Observation> observation_of(const decay::LevelFigure& figure) {
    using decay::LevelStatus;
    switch (figure.status) {
        case LevelStatus::measured:
        case LevelStatus::extrapolated:  // with a time only where the method allows it
            if (figure.decay_s && *figure.decay_s > 0) return stats::exactly(*figure.decay_s);
            return {};
        case LevelStatus::not_reached:
            if (figure.at_least_s && *figure.at_least_s > 0) return stats::at_least(*figure.at_least_s);
            return {};
        case LevelStatus::below_resolution:
            if (figure.at_most_s && *figure.at_most_s > 0) return stats::at_most(*figure.at_most_s);
            return {};
        case LevelStatus::too_noisy:
        case LevelStatus::refused:
            return {};
    }
    return {};
}

Result<std::vector<OrderLot>> lots_of(std::span<const record::OrderRecord> orders,
                                      const LotRequest& request) {
    std::vector<Gathered> all;
    for (const record::OrderRecord& record : orders)
        for (const judge::RequirementOutcome& outcome : record.judgement.requirements)
            if (!outcome.requirement.supplied) gather(record, outcome.requirement, request, all);
    std::vector<OrderLot> out;
    for (Gathered& group : all) {
        if (group.times.empty()) continue;
        auto lot = describe_lot(group.times, group.request, std::move(group.left_out), group.failed_specimen);
        if (!lot) return lot.error();
        group.lot.lot = std::move(lot).value();
        out.push_back(std::move(group.lot));
    }
    if (out.empty())
        return Error{Fault::bad_input, "no run that counts has a decay time that a requirement asks for",
                     orders.empty() ? "lot" : orders.front().order.id,
                     "Look at 'ebbtide judge' of the order for what its runs lack"};
    return out;
}

nlohmann::json json_of(const OrderLot& one) {
    nlohmann::json out = json_of(one.lot);
    out["orders"] = one.orders;
    out["requirement"] = one.requirement;
    out["sentence"] = one.sentence;
    out["group"] = one.group;
    out["sampling_plan"] = one.sampling_plan;
    return out;
}

nlohmann::json lots_json(std::span<const OrderLot> lots) {
    nlohmann::json all = nlohmann::json::array();
    for (const OrderLot& one : lots) all.push_back(json_of(one));
    return {{"schema", "ebbtide.lot/1"}, {"lots", std::move(all)}};
}

}  // namespace ebbtide::work
