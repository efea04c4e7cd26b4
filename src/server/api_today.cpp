// What to do next.

#include <filesystem>

#include "record/json.hpp"
#include "server/bench_clock.hpp"
#include "server/handlers.hpp"
#include "server/order_json.hpp"
#include "server/read_order.hpp"
#include "work/bench_standing.hpp"
#include "work/today.hpp"

namespace ebbtide::server {
namespace {

using nlohmann::json;
using record::text_or_null;

json due_json(const work::Today& today) {
    json out = json::array();
    for (const work::OrderDue& one : today.due) {
        const plan::Order& order = one.order->documents.order;
        out.push_back({{"key", one.order->key},
                       {"id", order.id},
                       {"title", order.title},
                       {"customer", order.customer.name},
                       {"due", date_json(order.due)},
                       {"days", one.days ? json(*one.days) : json()},
                       {"recorded", one.order->recorded()},
                       {"open", one.order->open()}});
    }
    return out;
}

json conditioning_json(const work::Today& today) {
    json out = json::array();
    for (const work::Conditioned& one : today.conditioning)
        out.push_back({{"key", one.order->key},
                       {"id", one.order->documents.order.id},
                       {"conditions", one.conditions},
                       {"specimens", one.specimens},
                       {"state", work::name_of(one.state)},
                       {"from", instant_json(one.from)},
                       {"ready_at", instant_json(one.ready_at)},
                       {"until", instant_json(one.until)},
                       {"words", one.words}});
    return out;
}

json checks_json(const work::Today& today) {
    json out = json::array();
    for (const work::CheckStanding& one : today.checks)
        out.push_back({{"bench", one.bench},
                       {"revision", one.revision},
                       {"orders", one.orders},
                       {"asked", one.asked},
                       {"good", one.good},
                       {"good_until", instant_json(one.good_until)},
                       {"reason", one.reason},
                       {"words", one.words}});
    return out;
}

json calibrations_json(const work::Today& today) {
    json out = json::array();
    for (const work::CalibrationDue& one : today.calibrations)
        out.push_back({{"bench", one.bench},
                       {"revision", one.revision},
                       {"equipment", one.equipment},
                       {"certificate", one.certificate},
                       {"due", iso_text(one.due)},
                       {"days", one.days}});
    return out;
}

}  // namespace

Reply today(const Call& call) {
    const auto folders = order_folders(call.desk.folder);
    if (!folders) return conflict(folders.error());
    const std::vector<work::OrderInWork> orders = orders_in_work(*folders);
    const Instant now = bench_clock(call.desk, *folders, orders);
    const work::Today today = work::today_of(orders, now);
    json next = json::array();
    for (const work::NextStep& step : today.next)
        next.push_back({{"action", work::name_of(step.action)},
                        {"key", text_or_null(step.key)},
                        {"place", text_or_null(step.place)},
                        {"words", step.words}});
    return json_reply({{"schema", "ebbtide.page-today/1"},
                       {"at", iso_text(now)},
                       {"today", iso_text(today.today)},
                       {"who", call.desk.who},
                       {"ledger", text_or_null(std::filesystem::path(call.desk.ledger).filename().string())},
                       {"due", due_json(today)},
                       {"conditioning", conditioning_json(today)},
                       {"checks", checks_json(today)},
                       {"calibrations", calibrations_json(today)},
                       {"next", std::move(next)}});
}

}  // namespace ebbtide::server
