// Orders: the list, one of them as it stands, its drawings.

#include <fmt/format.h>

#include <algorithm>
#include <filesystem>
#include <map>

#include "judge/advice.hpp"
#include "record/json.hpp"
#include "report/budget_table.hpp"
#include "report/chapters.hpp"
#include "report/dot_plot.hpp"
#include "report/law_words.hpp"
#include "report/residual_plot.hpp"
#include "report/trace_plot.hpp"
#include "report/words.hpp"
#include "server/drawing.hpp"
#include "server/handlers.hpp"
#include "server/issued_reports.hpp"
#include "server/order_json.hpp"
#include "server/read_order.hpp"
#include "work/judge_order.hpp"
#include "work/notes.hpp"
#include "work/order_at_hand.hpp"
#include "work/order_documents.hpp"

namespace ebbtide::server {
namespace {

using nlohmann::json;
using record::or_null;

json listed(const OrderFolder& at, const JudgedOrders& judged) {
    json out = {{"key", at.key},
                {"id", ""},
                {"title", ""},
                {"customer", ""},
                {"revision", json()},
                {"materials", json::array()},
                {"suppliers", json::array()},
                {"received", json()},
                {"due", json()},
                {"issued", json()},
                {"method", ""},
                {"specification", ""},
                {"specimens", 0},
                {"recorded", json()},
                {"open", json()},
                {"live", false},
                {"statement", json()},
                {"same_id", json::array()},
                {"error", json()}};
    const auto read = read_order(at.key, at.folder);
    if (!read) {
        const Error& error = read.error();
        out["error"] = {{"what", error.what}, {"where", error.where}, {"remedy", error.remedy}};
        return out;
    }
    const plan::Order& order = read->documents.order;
    out["id"] = order.id;
    out["title"] = order.title;
    out["customer"] = order.customer.name;
    out["revision"] = order.revision;
    for (const plan::Item& item : order.items) out["materials"].push_back(item.description);
    for (const plan::Item& item : order.items)
        if (!item.supplier.empty() && std::ranges::count(out["suppliers"], json(item.supplier)) == 0)
            out["suppliers"].push_back(item.supplier);
    out["received"] = date_json(order.received);
    out["due"] = date_json(order.due);
    out["issued"] = date_json(order.issued);
    out["method"] = order.method.file;
    out["specification"] = order.specification.file;
    out["specimens"] = order.specimens.size();
    out["recorded"] = read->recorded();
    out["open"] = read->open();
    out["live"] = !order.live_file.empty();
    if (const auto known = judged.known(at.folder); known && !known->order.record.judgement.runs.empty())
        out["statement"] = plan::name_of(known->order.record.judgement.statement);
    return out;
}

/// Two folders with one id are a fault: a report is found by it, and so is what the ledger holds.
void say_same_ids(json& orders) {
    std::map<std::string, std::vector<json>> keys;
    for (const json& one : orders) keys[one["id"].get<std::string>()].push_back(one["key"]);
    for (json& one : orders)
        for (const json& key : keys[one["id"].get<std::string>()])
            if (one["id"] != "" && key != one["key"]) one["same_id"].push_back(key);
}

/// The budget of the result that says most about a requirement: the hardest conditional one, else the one
/// that lies closest to the limit.
const judge::Finding* telling(const judge::RequirementOutcome& outcome) {
    if (const judge::Finding* finding = judge::hardest_conditional(outcome)) return finding;
    const judge::Finding* closest = nullptr;
    const auto distance = [&](const judge::Finding& finding) {
        return std::abs(*finding.value_s - outcome.requirement.limit_s);
    };
    for (const judge::Finding& finding : outcome.findings)
        if (finding.bound == judge::BoundKind::value && finding.value_s && !finding.budget.empty() &&
            (closest == nullptr || distance(finding) < distance(*closest)))
            closest = &finding;
    return closest;
}

json budget_json(const judge::Finding& finding, const judge::RequirementOutcome& outcome,
                 const plan::DecisionRule& rule) {
    double squares = 0;
    for (const decay::Contribution& part : finding.budget) squares += part.u_s() * part.u_s();
    json parts = json::array();
    for (const decay::Contribution& part : finding.budget)
        parts.push_back({{"source", part.source},
                         {"u", part.u},
                         {"unit", part.unit},
                         {"sensitivity", part.sensitivity},
                         {"share_s", part.u_s()},
                         {"percent", squares > 0 ? 100 * part.u_s() * part.u_s() / squares : 0},
                         {"scope", decay::name_of(part.scope)},
                         {"words", report::explanation_of(part.source)}});
    return {{"requirement", outcome.requirement.id},
            {"group", finding.group},
            {"value_s", or_null(finding.value_s)},
            {"u_s", or_null(finding.u_s)},
            {"limit_s", outcome.requirement.supplied ? json() : json(outcome.requirement.limit_s)},
            {"outcome", plan::name_of(finding.outcome)},
            {"parts", std::move(parts)},
            {"advice", judge::advice_in_words(finding, outcome.requirement, rule)}};
}

json budgets_of(const record::OrderRecord& record) {
    json budgets = json::array();
    for (const judge::RequirementOutcome& outcome : record.judgement.requirements)
        if (const judge::Finding* finding = telling(outcome))
            budgets.push_back(budget_json(*finding, outcome, record.order.decision_rule));
    return budgets;
}

std::vector<std::string> level_names(const record::OrderRecord& record) {
    std::vector<std::string> names;
    const auto levels = record.judgement.requirements.empty() ? plan::levels_asked(record.specification)
                                                              : report::levels_to_show(record);
    for (const plan::Level& level : levels) names.push_back(level.label());
    return names;
}

Reply nothing_to_draw(const std::string& of) {
    return conflict({Fault::bad_input, "there is nothing to draw yet", of, "Record runs first"});
}

Reply draw_dots(const Call& call, const record::OrderRecord& record, double width) {
    const auto shown = report::levels_to_show(record);
    if (shown.empty()) return nothing_to_draw("level");
    plan::Level level = shown.front();
    if (const std::string asked = call.parameter("level"); !asked.empty()) {
        const auto parsed = plan::parse_level(asked);
        if (!parsed) return refused(parsed.error());
        const auto same = std::ranges::find_if(shown, [&](const plan::Level& one) {
            return one.kind == parsed->kind && std::abs(one.value - parsed->value) <= 1e-9 * one.value;
        });
        if (same == shown.end())
            return refused("no requirement asks for this level", "level", "Take one of the order's 'levels'");
        level = *same;
    }
    const auto part = call.number("part", 1, 1, 1e6);
    if (!part) return refused(part.error());
    const auto pictures = report::dot_plots(record.judgement, record.order, level, width);
    if (pictures.empty()) return nothing_to_draw("level");
    if (*part > static_cast<double>(pictures.size()))
        return refused(fmt::format("there are {} parts", pictures.size()), "part", "Ask for one of them");
    Reply reply = drawing(pictures[static_cast<std::size_t>(*part) - 1]);
    reply.headers.emplace_back("Ebbtide-Parts", std::to_string(pictures.size()));
    return reply;
}

Reply draw_curves(const Call& call, const work::JudgedOrder& judged, double width) {
    const std::string specimen = call.parameter("specimen");
    const plan::Specimen* about = judged.record.order.specimen(specimen);
    if (about == nullptr)
        return refused("the order has no such specimen", "specimen", "Take one of the order's specimens");
    std::vector<report::PlottedRun> runs;
    for (const judge::JudgedRun& run : judged.record.judgement.runs)
        if (const auto trace = judged.traces.find(run.run_id);
            run.key.specimen == specimen && trace != judged.traces.end() && !trace->second.time_s.empty())
            runs.push_back({&run, &trace->second});
    if (runs.empty()) return nothing_to_draw("specimen");
    std::string beside = about->direction;
    if (!about->state.empty()) beside += (beside.empty() ? "" : ", ") + about->state;
    return drawing(
        report::trace_plot(specimen, beside, runs, report::wanted_time_s(runs).value_or(1), width));
}

Reply draw_fit(const Call& call, const work::JudgedOrder& judged, double width) {
    const std::string id = call.parameter("run");
    for (const judge::JudgedRun& run : judged.record.judgement.runs) {
        if (run.run_id != id || id.empty() || !run.figures) continue;
        if (!run.figures->law || run.figures->law->residuals.empty()) return nothing_to_draw("run");
        const auto trace = judged.traces.find(id);
        return drawing(report::fit_plot(report::run_name(run.key), report::law_sentence(*run.figures->law),
                                        {&run, trace == judged.traces.end() ? nullptr : &trace->second},
                                        width));
    }
    return refused("the order has no such run", "run", "Take one of the order's runs");
}

}  // namespace

Reply list_orders(const Call& call) {
    const auto folders = order_folders(call.desk.folder);
    if (!folders) return conflict(folders.error());
    json orders = json::array();
    for (const OrderFolder& at : *folders) orders.push_back(listed(at, call.held.judged));
    say_same_ids(orders);
    std::error_code none;
    return json_reply(
        {{"schema", "ebbtide.page-orders/1"},
         {"folder", std::filesystem::weakly_canonical(call.desk.folder, none).filename().string()},
         {"orders", std::move(orders)}});
}

Reply show_order(const Call& call) {
    const auto at = order_named(call);
    if (!at) return at.instead;
    const auto read = read_order(at->key, at->folder);
    if (!read) return conflict(read.error());
    const auto notes = work::notes_in(at->folder);
    if (!notes) return conflict(notes.error());
    json judgement, budgets = json::array();
    record::OrderRecord record = read->documents;
    std::vector<work::OrderPlace> stands = read->places;
    if (!record.order.recordings.empty()) {
        const auto kept = call.held.judged.judged(at->folder, call.now(), work::full_depth);
        if (!kept) return conflict(kept.error());
        record = (*kept)->order.record;
        judgement = work::judgement_json(record);
        budgets = budgets_of(record);
        stands =
            work::order_places(record.order, record.method, work::laid_runs(record.judgement, record.order));
    }
    const json whole = record::json_of(record);
    const bool live = !record.order.live_file.empty();
    json places = json::array();
    for (const work::OrderPlace& place : stands) places.push_back(place_json(place, live));
    return json_reply({{"schema", "ebbtide.page-order/1"},
                       {"key", at->key},
                       {"order", whole.at("order")},
                       {"method", whole.at("method")},
                       {"specification", whole.at("specification")},
                       {"bench", whole.at("bench")},
                       {"inputs", whole.at("inputs")},
                       {"recordings", whole.at("recordings")},
                       {"live", live},
                       {"places", std::move(places)},
                       {"judgement", std::move(judgement)},
                       {"budgets", std::move(budgets)},
                       {"levels", level_names(record)},
                       {"reports", issued_json(at->folder)},
                       {"notes", notes->size()}});
}

Reply draw_order(const Call& call) {
    const auto width = call.number("width", 510, 200, 2000);
    if (!width) return refused(width.error());
    const std::string what = call.parameter("what", "dots");
    if (what != "dots" && what != "curves" && what != "fit")
        return refused("there is no such drawing", "what", "Ask for dots, curves or fit");
    const auto order = judged_named(call);
    if (!order) return order.instead;
    const work::JudgedOrder& judged = order->kept->order;
    if (what == "curves") return draw_curves(call, judged, *width);
    if (what == "fit") return draw_fit(call, judged, *width);
    return draw_dots(call, judged.record, *width);
}

Reply order_traces(const Call& call) {
    const auto points = call.number("points", 60, 10, 1000);
    if (!points) return refused(points.error());
    // Asked for after every run at the bench: neither laws nor Monte Carlo are drawn.
    const auto order = judged_named(call, {});
    if (!order) return order.instead;
    json traces = json::array();
    for (const judge::JudgedRun& run : order->record().judgement.runs)
        if (const auto trace = order->kept->order.traces.find(run.run_id);
            trace != order->kept->order.traces.end())
            traces.push_back(trace_json(run.run_id, trace->second, static_cast<std::size_t>(*points)));
    return json_reply(
        {{"schema", "ebbtide.page-traces/1"}, {"key", order->at.key}, {"traces", std::move(traces)}});
}

}  // namespace ebbtide::server
