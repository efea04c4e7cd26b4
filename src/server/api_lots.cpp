// What the specimens of several orders say of their lots, and orders side by side.

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "server/drawing.hpp"
#include "server/handlers.hpp"
#include "work/compare_report.hpp"
#include "work/compare_sources.hpp"
#include "work/lot_history.hpp"
#include "work/lot_order.hpp"
#include "work/lot_report.hpp"

namespace ebbtide::server {
namespace {

constexpr std::size_t most_together = 100;  // each takes seconds to judge when it is new

/// What was asked for is at fault. The command's options are parameters here: "--alike-within" is
/// "alike_within".
Reply refused_option(Error error) {
    if (error.where.starts_with("--")) {
        for (std::size_t at = 0; (at = error.where.find("--", at)) != std::string::npos;)
            error.where.erase(at, 2);
        std::ranges::replace(error.where, '-', '_');
    }
    return refused(error);
}

/// Keys with "/" between them, which no folder's name holds; each once, in their order.
std::vector<std::string> keys_in(const std::string& text) {
    std::vector<std::string> keys;
    for (std::size_t at = 0; at < text.size();) {
        const std::size_t end = std::min(text.find('/', at), text.size());
        const std::string key = text.substr(at, end - at);
        if (!key.empty() && std::ranges::find(keys, key) == keys.end()) keys.push_back(key);
        at = end + 1;
    }
    return keys;
}

/// The orders that the query names, judged.
Found<std::vector<record::OrderRecord>> orders_asked(const Call& call) {
    const std::vector<std::string> keys = keys_in(call.parameter("orders"));
    if (keys.empty())
        return {{}, refused("no order is named", "orders", "Send keys of orders with / between them")};
    if (keys.size() > most_together)
        return {{},
                refused(fmt::format("{} orders are named; at most {} are taken together", keys.size(),
                                    most_together),
                        "orders", "Take fewer")};
    std::vector<record::OrderRecord> records;
    for (const std::string& key : keys) {
        const auto at = order_named(call.desk, key, "orders");
        if (!at) return {{}, at.instead};
        const auto kept = call.held.judged.judged(at->folder, call.now(), {});
        if (!kept) return {{}, conflict(kept.error())};
        records.push_back((*kept)->order.record);
    }
    return {std::move(records)};
}

/// The history of the orders' material, where it is asked for.
Found<std::optional<work::LotPrior>> history_asked(const Call& call,
                                                   const std::vector<record::OrderRecord>& orders) {
    using Prior = std::optional<work::LotPrior>;
    const std::string asked = call.parameter("history");
    if (asked.empty()) return {Prior()};
    if (asked != "ledger") return {{}, refused("there is no such history", "history", "Say ledger")};
    const auto level = work::compared_level(orders, "");
    if (!level) return {{}, refused_option(level.error())};
    const auto ledger = ledger_of(call);
    if (!ledger) return {{}, ledger.instead};
    auto prior = work::history_in_ledger(**ledger, work::history_before(orders, *level));
    if (!prior) return {{}, refused(prior.error().what, "history", "")};
    return {Prior(std::move(prior).value())};
}

Found<std::vector<work::OrderLot>> lots_asked(const Call& call) {
    work::LotRequest request;
    const auto share = call.number("share", request.claim.share, 0, 1),
               confidence = call.number("confidence", request.claim.confidence, 0, 1),
               alike_within = call.number("alike_within", request.alike_within, 1, 1e6);
    for (const auto* asked : {&share, &confidence, &alike_within})
        if (!*asked) return {{}, refused(asked->error())};
    request.claim = {*share, *confidence};
    request.alike_within = *alike_within;
    const auto orders = orders_asked(call);
    if (!orders) return {{}, orders.instead};
    const auto history = history_asked(call, *orders);
    if (!history) return {{}, history.instead};
    request.history = *history;
    auto lots = work::lots_of(*orders, request);
    if (!lots) return {{}, refused_option(lots.error())};
    return {std::move(lots).value()};
}

struct Compared {
    work::Comparison comparison;
    std::vector<std::string> orders;  ///< ids
    std::string level;
};

Found<Compared> comparison_asked(const Call& call) {
    work::CompareRequest request;
    request.by = call.parameter("by", request.by);
    const auto alike_within = call.number("alike_within", request.alike_within, 1, 1e6);
    if (!alike_within) return {{}, refused(alike_within.error())};
    request.alike_within = *alike_within;
    const auto orders = orders_asked(call);
    if (!orders) return {{}, orders.instead};
    const auto level = work::compared_level(*orders, call.parameter("level"));
    if (!level) return {{}, refused_option(level.error())};
    Compared out{{}, {}, level->label()};
    std::vector<work::LotTime> times;
    std::vector<std::string> left_out;
    for (const record::OrderRecord& order : *orders) {
        out.orders.push_back(order.order.id);
        std::ranges::move(work::times_of(order, *level, left_out), std::back_inserter(times));
    }
    auto comparison = work::compare(times, request, std::move(left_out));
    if (!comparison) return {{}, refused_option(comparison.error())};
    out.comparison = std::move(comparison).value();
    return {std::move(out)};
}

}  // namespace

Reply describe_lots(const Call& call) {
    const auto lots = lots_asked(call);
    return lots ? json_reply(work::lots_json(*lots)) : lots.instead;
}

Reply draw_lot(const Call& call) {
    const auto width = call.number("width", 440, 200, 2000), number = call.number("lot", 1, 1, 1e6);
    for (const auto* asked : {&width, &number})
        if (!*asked) return refused(asked->error());
    const std::string what = call.parameter("what", "probability");
    if (what != "probability" && what != "operating")
        return refused("there is no such drawing", "what", "Ask for probability or operating");
    const auto lots = lots_asked(call);
    if (!lots) return lots.instead;
    if (*number > static_cast<double>(lots->size()) || std::floor(*number) != *number)
        return refused(fmt::format("there are {} lots", lots->size()), "lot", "Ask for one of them");
    const report::LotStatement lot =
        work::statement_of((*lots)[static_cast<std::size_t>(*number) - 1], work::LotDetail::brief);
    if (what == "probability") return drawing(report::probability_picture(lot, *width));
    const auto operating = report::operating_picture(lot, *width);
    if (!operating)
        return conflict({Fault::bad_input, "nothing is claimed of this lot, or some of its times are bounds",
                         "what", "Ask for probability"});
    return drawing(*operating);
}

Reply compare_orders(const Call& call) {
    const auto compared = comparison_asked(call);
    if (!compared) return compared.instead;
    return json_reply(work::comparison_json(compared->comparison, compared->orders, compared->level));
}

Reply draw_comparison(const Call& call) {
    const auto width = call.number("width", 510, 200, 2000);
    if (!width) return refused(width.error());
    const auto compared = comparison_asked(call);
    return compared ? drawing(work::plot_of(compared->comparison, *width)) : compared.instead;
}

}  // namespace ebbtide::server
