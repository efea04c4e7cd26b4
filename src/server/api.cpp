#include "server/api.hpp"

#include <fmt/format.h>

#include <exception>

#include "server/api_files.hpp"
#include "server/handlers.hpp"

namespace ebbtide::server {
namespace {

enum class Kind {
    reads,   ///< side by side with any other
    writes,  ///< into the orders' folders: one after another
    bench,   ///< answered by the bench's side
    begins,  ///< the same, when no other writes: from then on the session does
};

struct Route {
    std::string_view method, path;
    Handler handler;
    Kind kind = Kind::reads;
};

constexpr Route table[] = {
    {"GET", "/api/today", today},
    {"GET", "/api/orders", list_orders},
    {"POST", "/api/orders", take_in_order, Kind::writes},
    {"GET", "/api/orders/{key}", show_order},
    {"POST", "/api/orders/{key}/conditions", enter_order_conditions, Kind::writes},
    {"GET", "/api/orders/{key}/plot", draw_order},
    {"GET", "/api/orders/{key}/traces", order_traces},
    {"GET", "/api/orders/{key}/report", preview_report},
    {"POST", "/api/orders/{key}/report", issue_report, Kind::writes},
    {"GET", "/api/orders/{key}/reports/{name}", issued_report},
    {"POST", "/api/orders/{key}/rejudge", rejudge_order},
    {"GET", "/api/orders/{key}/runs/{run}", show_run},
    {"GET", "/api/orders/{key}/runs/{run}/trace", run_trace},
    {"GET", "/api/orders/{key}/runs/{run}/fit", run_fit},
    {"GET", "/api/orders/{key}/runs/{run}/pedigree", run_pedigree},
    {"GET", "/api/orders/{key}/runs/{run}/export", export_run},
    {"GET", "/api/orders/{key}/runs/{run}/notes", run_notes},
    {"POST", "/api/orders/{key}/runs/{run}/notes", add_run_note, Kind::writes},
    {"GET", "/api/methods", list_methods},
    {"GET", "/api/methods/{id}", show_method},
    {"GET", "/api/specifications", list_specifications},
    {"GET", "/api/specifications/{id}", show_specification},
    {"GET", "/api/materials", list_materials},
    {"GET", "/api/materials/trend", material_trend},
    {"GET", "/api/find", find_in_ledger},
    {"GET", "/api/lots", describe_lots},
    {"GET", "/api/lots/plot", draw_lot},
    {"GET", "/api/compare", compare_orders},
    {"GET", "/api/compare/plot", draw_comparison},
    {"POST", "/api/predict", predict_decay},
    {"POST", "/api/imports", import_file},
    {"POST", "/api/imports/{id}/keep", keep_import, Kind::writes},
    {"GET", "/api/bench", nullptr, Kind::bench},
    {"POST", "/api/bench/start", nullptr, Kind::begins},
    {"POST", "/api/bench/check", nullptr, Kind::begins},
    {"POST", "/api/bench/answer", nullptr, Kind::bench},
    {"POST", "/api/bench/pause", nullptr, Kind::bench},
    {"POST", "/api/bench/abort", nullptr, Kind::bench},
    {"GET", "/api/live", nullptr, Kind::bench},
    {"GET", "/api/openapi.json",
     [](const Call&) {
         return Reply{200, "application/json", std::string(openapi_text()), {}};
     }},
};

/// One part of a path from `at`, which then stands behind it.
std::string_view part_at(std::string_view path, std::size_t& at) {
    const std::size_t end = std::min(path.find('/', at), path.size());
    const std::string_view part = path.substr(at, end - at);
    at = end + 1;
    return part;
}

/// What stands for the names in braces; nothing where the path is another.
std::optional<std::vector<std::string>> matched(std::string_view pattern, std::string_view path) {
    std::vector<std::string> names;
    std::size_t at = 0, of_path = 0;
    while (at <= pattern.size()) {
        if (of_path > path.size()) return {};
        const std::string_view wanted = part_at(pattern, at), part = part_at(path, of_path);
        if (wanted.starts_with('{')) {
            if (part.empty()) return {};
            names.emplace_back(part);
        } else if (wanted != part) {
            return {};
        }
    }
    if (of_path <= path.size()) return {};
    return names;
}

}  // namespace

struct Api::State {
    Desk desk;
    BenchSide bench;
    Holdings held;
};

Api::Api(Desk desk, BenchSide bench) : state_(std::make_unique<State>()) {
    state_->desk = std::move(desk);
    state_->bench = std::move(bench);
}

Api::~Api() = default;

Reply Api::answer(const Request& request) {
    std::string others;
    for (const Route& route : table) {
        auto names = matched(route.path, request.path);
        if (!names) continue;
        if (route.method != request.method) {
            others += fmt::format("{}{}", others.empty() ? "" : ", ", route.method);
            continue;
        }
        try {
            std::unique_lock writing(state_->held.writing, std::defer_lock);
            if (route.kind == Kind::writes || route.kind == Kind::begins) writing.lock();
            if (route.handler)
                return route.handler({request, std::move(*names), state_->desk, state_->bench, state_->held});
            if (state_->bench.answer) return state_->bench.answer(request);
            return conflict({Fault::bad_input, "no bench is served here", request.path,
                             "Start 'ebbtide serve' with a bench"});
        } catch (const std::exception& broken) {
            return error_reply(500, {Fault::internal, fmt::format("this is our own fault: {}", broken.what()),
                                     request.path, "Please report it with what was asked"});
        }
    }
    if (others.empty())
        return not_found(
            {Fault::bad_input, "there is no such path", "path", "GET /api/openapi.json lists them"});
    Reply reply = error_reply(405, {Fault::bad_input, "the path is asked for by " + others, "method", ""});
    reply.headers.emplace_back("Allow", others);
    return reply;
}

std::vector<RouteName> routes() {
    std::vector<RouteName> out;
    for (const Route& route : table) out.push_back({std::string(route.method), std::string(route.path)});
    return out;
}

std::string_view openapi_text() {
    return api_files().front().text;
}

}  // namespace ebbtide::server
