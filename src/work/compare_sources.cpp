#include "work/compare_sources.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "judge/statistic.hpp"
#include "work/lot_order.hpp"

namespace ebbtide::work {
namespace {

std::map<std::string, std::string> labels_of(const plan::Order& order, const judge::JudgedRun& run) {
    std::map<std::string, std::string> out{{"source", order.id},
                                           {"customer", order.customer.name},
                                           {"conditions", run.key.conditions},
                                           {"date", iso_text(order.tested_from)}};
    if (const plan::Specimen* specimen = order.specimen(run.key.specimen)) {
        out["item"] = specimen->item;
        out["state"] = specimen->state;
        const auto item = std::ranges::find(order.items, specimen->item, &plan::Item::id);
        if (item != order.items.end()) {
            out["material"] = item->description;
            out["lot"] = item->lot;
            out["supplier"] = item->supplier;
        }
    }
    std::erase_if(out, [](const auto& one) { return one.second.empty(); });
    return out;
}

}  // namespace

Result<plan::Level> compared_level(std::span<const record::OrderRecord> orders, const std::string& asked) {
    if (!asked.empty()) {
        auto level = plan::parse_level(asked);
        if (level) return level;
        Error error = level.error();
        error.where = "--level";
        return error;
    }
    std::vector<plan::Level> levels;
    for (const record::OrderRecord& order : orders)
        for (const judge::RequirementOutcome& outcome : order.judgement.requirements)
            if (!outcome.requirement.supplied) plan::add_once(levels, outcome.requirement.level);
    if (levels.size() == 1) return levels.front();
    std::string labels;
    for (const plan::Level& one : levels) labels += (labels.empty() ? "" : ", ") + one.label();
    return Error{Fault::bad_input,
                 levels.empty() ? std::string("no requirement of these orders is about a decay time")
                                : fmt::format("their requirements are about several levels: {}", labels),
                 "--level", "Say which decay level is compared, such as 10%"};
}

std::vector<LotTime> times_of(const record::OrderRecord& record, const plan::Level& level,
                              std::vector<std::string>& left_out) {
    const plan::Order& order = record.order;
    std::vector<LotTime> out;
    for (const judge::JudgedRun& run : record.judgement.runs) {
        if (run.without_specimen || !(run.counts || run.fails)) continue;
        const decay::LevelFigure* figure = judge::figure_at(run, level);
        const auto observation = figure != nullptr && !run.fails ? observation_of(*figure) : std::nullopt;
        if (!observation) {
            left_out.push_back(fmt::format("{} {}: {}", order.id, run.key.label(),
                                           run.fails           ? "failed by a flag"
                                           : figure == nullptr ? "no decay time to this level"
                                                               : figure->reason));
            continue;
        }
        const plan::Specimen* specimen = order.specimen(run.key.specimen);
        out.push_back({*observation, order.id + " " + run.key.specimen,
                       static_cast<double>(run.key.replicate), specimen ? specimen->direction : "",
                       run.key.face, plan::sign_of(run.key.polarity), labels_of(order, run)});
    }
    return out;
}

Result<std::vector<LotTime>> times_of_table(std::string_view table, const std::string& name) {
    auto times = read_lot_times(table, name, LabelColumns::read);
    if (!times) return times.error();
    for (LotTime& one : *times) one.labels["source"] = name;
    return times;
}

}  // namespace ebbtide::work
