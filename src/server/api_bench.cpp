#include "server/api_bench.hpp"

#include <algorithm>

#include "server/bench_clock.hpp"
#include "server/call.hpp"
#include "server/fields.hpp"
#include "server/order_folders.hpp"
#include "server/order_json.hpp"
#include "server/read_order.hpp"

namespace ebbtide::server {
namespace {

using nlohmann::json;

}  // namespace

Reply BenchApi::answer(const Request& request) {
    const std::string& path = request.path;
    if (path == "/api/bench") return state();
    Fields asked(request);
    if (path == "/api/bench/start") return start(asked);
    if (path == "/api/bench/check") return check(asked);
    if (path == "/api/bench/answer") return answer_question(asked);
    if (path == "/api/bench/pause") {
        const bool paused = asked.truth_or("paused", true);
        if (const auto wrong = asked.problem()) return error_reply(*wrong);
        return stands_after(session_.pause(paused));
    }
    // Whatever was sent with it: an abort is heard.
    if (path == "/api/bench/abort") {
        session_.abort();
        return state();
    }
    return error_reply(404, {Fault::bad_input, "there is nothing at this address", path, ""});
}

Reply BenchApi::state() const {
    // The number first: what happens meanwhile is in the state already, and told again.
    json out = {{"schema", "ebbtide.page-bench/1"}, {"event", feed_.last()}};
    out["session"] = session_.state();
    out["benches"] = json::array();
    const auto folders = order_folders(desk_.folder);
    if (!folders) return error_reply(409, folders.error());
    const std::vector<work::OrderInWork> orders = orders_in_work(*folders);
    const Instant now = bench_clock(desk_, *folders, orders);
    out["at"] = iso_text(now);
    for (const work::OrderInWork& order : orders) {
        const auto& bench = order.documents.bench;
        // Not every order can be worked on live; one whose documents are at fault says so elsewhere.
        if (order.error || !bench || !bench->drive || order.documents.order.live_file.empty()) continue;
        const work::CheckStanding stands = work::standing_of(order, now);
        json one = {{"bench", bench->id},
                    {"revision", bench->revision},
                    {"orders", json::array()},
                    {"simulated", !desk_.simulated.empty()},
                    {"check",
                     {{"asked", stands.asked},
                      {"good", stands.good},
                      {"reason", stands.reason},
                      {"good_until", instant_json(stands.good_until)}}},
                    {"setup", bench->setup}};
        // The same bench, by the same checks, is one.
        auto same = std::ranges::find_if(out["benches"], [&](const json& other) {
            return other["bench"] == one["bench"] && other["revision"] == one["revision"] &&
                   other["check"] == one["check"];
        });
        if (same == out["benches"].end()) {
            out["benches"].push_back(std::move(one));
            same = std::prev(out["benches"].end());
        }
        if (order.open() > 0) (*same)["orders"].push_back(order.key);
    }
    return json_reply(out);
}

Reply BenchApi::stands_after(const Result<Done>& done) const {
    return done ? state() : error_reply(done.error());
}

Reply BenchApi::start(Fields& asked) {
    OrderStart start;
    start.key = asked.text("order");
    start.who = asked.text_or("who", desk_.who);
    start.conditions = asked.text_or("conditions");
    start.override_ = asked.text_or("override");
    start.seed = asked.index("seed").value_or(1);
    start.ledger = desk_.ledger;
    const auto sequence = work::sequence_named(asked.text_or("sequence", "planned"));
    if (const auto wrong = asked.problem()) return error_reply(*wrong);
    if (!sequence)
        return refused("there is no such sequence", "sequence", "Say planned, alternated or randomised");
    start.sequence = *sequence;
    const auto at = order_named(desk_, start.key, "order");
    if (!at) return at.instead;
    start.folder = at->folder;
    return stands_after(session_.begin(start));
}

Reply BenchApi::check(Fields& asked) {
    CheckStart start;
    start.key = asked.text("order");
    start.who = asked.text_or("who", desk_.who);
    start.closing = asked.truth_or("closing", false);
    if (const auto wrong = asked.problem()) return error_reply(*wrong);
    const auto at = order_named(desk_, start.key, "order");
    if (!at) return at.instead;
    start.folder = at->folder;
    return stands_after(session_.begin(start));
}

Reply BenchApi::answer_question(Fields& asked) {
    const auto question = asked.index("question");
    const std::string said = asked.text("answer");
    if (const auto wrong = asked.problem()) return error_reply(*wrong);
    for (const work::Answer answer : {work::Answer::done, work::Answer::skip, work::Answer::stop})
        if (said == work::name_of(answer)) return stands_after(session_.answer(question.value_or(0), answer));
    return refused("there is no such answer", "answer", "Say done, skip or stop");
}

}  // namespace ebbtide::server
