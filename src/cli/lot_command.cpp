#include <fmt/format.h>

#include <nlohmann/json.hpp>

#include "cli/clock.hpp"
#include "cli/commands.hpp"
#include "cli/print.hpp"
#include "cli/print_lot.hpp"
#include "record/json.hpp"
#include "work/judge_order.hpp"
#include "work/lot_order.hpp"

namespace ebbtide::cli {
namespace {

constexpr std::uint64_t most_bytes_of_times = std::uint64_t{64} << 20;

int lot_of_times(const LotOptions& options, const work::LotRequest& request) {
    const auto text = work::read_whole(options.times, most_bytes_of_times);
    if (!text) return complain(text.error());
    const auto times = work::read_lot_times(*text, options.times);
    if (!times) return complain(times.error());
    const auto lot = work::describe_lot(*times, request);
    if (!lot) return complain(lot.error());
    if (options.json) {
        nlohmann::json document = work::json_of(*lot);
        document["schema"] = "ebbtide.lot/1";
        fmt::print("{}", record::canonical_text(document));
    } else {
        fmt::print("{}", text_of(*lot));
    }
    return ok;
}

int lots_of_orders(const LotOptions& options, const work::LotRequest& request) {
    std::vector<record::OrderRecord> records;
    for (const std::string& order : options.orders) {
        const auto files = work::order_files_at(order);
        if (!files) return complain(files.error());
        auto judged = work::judge_order(**files, time_of_making());
        if (!judged) return complain(judged.error());
        records.push_back(std::move(judged->record));
    }
    const auto lots = work::lots_of(records, request);
    if (!lots) return complain(lots.error());
    nlohmann::json all = nlohmann::json::array();
    for (const work::OrderLot& one : *lots) {
        if (options.json) {
            nlohmann::json lot = work::json_of(one.lot);
            lot["orders"] = one.orders;
            lot["requirement"] = one.requirement;
            lot["sentence"] = one.sentence;
            lot["group"] = one.group;
            lot["sampling_plan"] = one.sampling_plan;
            all.push_back(std::move(lot));
        } else {
            fmt::print("{}\n{}\nsampling: {}\n\n{}", one.group, wrapped(one.sentence, screen, 2),
                       wrapped(one.sampling_plan.empty() ? "no plan stated" : one.sampling_plan, screen, 2),
                       text_of(one.lot));
        }
    }
    if (options.json)
        fmt::print("{}", record::canonical_text({{"schema", "ebbtide.lot/1"}, {"lots", std::move(all)}}));
    return ok;
}

}  // namespace

int lot(const LotOptions& options) {
    if (options.times.empty() == options.orders.empty())
        return complain({Fault::bad_input,
                         options.times.empty() ? "no order and no file of times is named"
                                               : "orders and a file of times are both named",
                         "lot", "Name orders, or a file after --times"});
    if (!options.orders.empty() && options.limit_s)
        return complain({Fault::bad_input, "an order's limits are those of its specification", "--limit",
                         "Leave it away, or give bare times after --times"});
    work::LotRequest request;
    request.limit_s = options.limit_s;
    request.claim = {options.share, options.confidence};
    request.alike_within = options.alike_within;
    return options.times.empty() ? lots_of_orders(options, request) : lot_of_times(options, request);
}

int plan(const PlanOptions& options) {
    work::SamplingRequest request;
    request.claim = {options.share, options.confidence};
    request.beyond = options.beyond;
    request.power = options.power;
    request.risks = {options.good, options.accept, options.poor, options.wrong};
    request.specimens = options.specimens;
    const auto sampling = work::plan_sampling(request);
    if (!sampling) return complain(sampling.error());
    fmt::print("{}", options.json ? record::canonical_text(work::json_of(*sampling)) : text_of(*sampling));
    return ok;
}

}  // namespace ebbtide::cli
