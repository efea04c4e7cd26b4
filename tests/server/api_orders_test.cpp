// Orders as the page sees them: the list, one as it stands, its drawings.

#include <gtest/gtest.h>

#include <thread>

#include "support/api_desk.hpp"
#include "support/documented_keys.hpp"

namespace {

using namespace ebbtide;
using namespace ebbtide::testing_support;
using nlohmann::json;

using ApiOrders = ApiDesk;
using JudgedApiOrders = JudgedDesk;

json with_key(const json& list, const char* name, const std::string& value) {
    for (const json& one : list)
        if (one[name] == value) return one;
    ADD_FAILURE() << "none has the " << name << " " << value;
    return json::object();
}

TEST_F(ApiOrders, AreListedWithWhatIsRecorded) {
    json orders = got("/api/orders")["orders"];
    ASSERT_EQ(orders.size(), 4u);
    const json cloth = with_key(orders, "key", "halyard-cloth");
    EXPECT_EQ(cloth["id"], "TP-2026-0914");
    EXPECT_TRUE(cloth["statement"].is_null()) << "nobody has judged it yet";
    const json awnings = with_key(orders, "key", "awning-live");
    EXPECT_EQ(awnings["recorded"], 0);
    EXPECT_EQ(awnings["live"], true);
    const std::size_t open = awnings["open"];
    EXPECT_EQ(open, got("/api/orders/awning-live")["places"].size());
    // After it was judged the statement is known, until a file changes.
    const std::string statement = got("/api/orders/bench-faults")["judgement"]["statement"];
    EXPECT_EQ(with_key(got("/api/orders")["orders"], "key", "bench-faults")["statement"], statement);
    std::string text = bytes_of(path("bench-faults/order.toml"));
    write_bytes(path("bench-faults/order.toml"), text + "\n");
    EXPECT_TRUE(with_key(got("/api/orders")["orders"], "key", "bench-faults")["statement"].is_null());
}

TEST_F(ApiOrders, WithAFaultAreListedWithIt) {
    std::filesystem::create_directory(path("spoilt"));
    write_bytes(path("spoilt/order.toml"), "schema = \"ebbtide.order/1\"\nid = 3\n");
    const json spoilt = with_key(got("/api/orders")["orders"], "key", "spoilt");
    EXPECT_NE(spoilt["error"]["what"], "");
    bad(get("/api/orders/spoilt"), 409);
    EXPECT_EQ(with_key(got("/api/today")["next"], "action", "mend")["key"], "spoilt");
}

TEST_F(ApiOrders, NameTheOtherFoldersThatCarryTheirId) {
    std::filesystem::copy(path("awning-live"), path("awning-copy"), std::filesystem::copy_options::recursive);
    const json orders = got("/api/orders")["orders"];
    EXPECT_EQ(with_key(orders, "key", "awning-live")["same_id"], json::array({"awning-copy"}));
    EXPECT_EQ(with_key(orders, "key", "awning-copy")["same_id"], json::array({"awning-live"}));
    EXPECT_EQ(with_key(orders, "key", "halyard-cloth")["same_id"], json::array());
    const json mend = with_key(got("/api/today")["next"], "action", "mend");
    EXPECT_NE(mend["words"].get<std::string>().find("awning-copy and awning-live"), std::string::npos)
        << mend;
}

TEST_F(ApiOrders, SayWhoSuppliedTheirItems) {
    std::string text = bytes_of(path("awning-live/order.toml"));
    const std::string lot = "lot = \"Roll 31\"\n";
    ASSERT_NE(text.find(lot), std::string::npos);
    write_bytes(path("awning-live/order.toml"),
                text.replace(text.find(lot), lot.size(), lot + "supplier = \"Shingle Mills\"\n"));
    const json orders = got("/api/orders")["orders"];
    EXPECT_EQ(with_key(orders, "key", "awning-live")["suppliers"], json::array({"Shingle Mills"}));
    EXPECT_EQ(with_key(orders, "key", "halyard-cloth")["suppliers"], json::array());
    EXPECT_EQ(got("/api/orders/awning-live")["order"]["items"][0]["supplier"], "Shingle Mills");
}

TEST_F(JudgedApiOrders, AreJudgedAsTheCommandJudgesThem) {
    for (const char* key : {"halyard-cloth", "film-insulator", "bench-faults"}) {
        const json told = run({"judge", path(key), "--json"}).json();
        EXPECT_EQ(got(std::string("/api/orders/") + key)["judgement"], told) << key;
    }
    EXPECT_TRUE(got("/api/orders/awning-live")["judgement"].is_null());
}

TEST_F(JudgedApiOrders, LayTheirRunsOnThePlan) {
    const json order = got("/api/orders/halyard-cloth");
    std::set<std::string> laid;
    std::size_t filled = 0;
    for (const json& place : order["places"]) {
        for (const json& run : place["runs"]) laid.insert(run);
        filled += place["state"] == "filled";
        EXPECT_EQ(place["state"] == "open", place["run"].is_null());
        EXPECT_TRUE(place["index"].is_null()) << "runs of this order are not heard live";
    }
    const auto runs = runs_of("halyard-cloth");
    EXPECT_EQ(laid, (std::set<std::string>{runs.begin(), runs.end()})) << "every run lies somewhere";
    EXPECT_EQ(with_key(got("/api/orders")["orders"], "key", "halyard-cloth")["recorded"], filled);
    const json awnings = got("/api/orders/awning-live");
    for (const json& place : awnings["places"]) {
        EXPECT_EQ(place["state"], "open");
        EXPECT_TRUE(place["index"].is_number());
    }
}

TEST_F(JudgedApiOrders, ShowWhatTheirUncertaintyIsMadeOf) {
    const json budgets = got("/api/orders/halyard-cloth")["budgets"];
    ASSERT_FALSE(budgets.empty());
    for (const json& budget : budgets) {
        double percent = 0;
        for (const json& part : budget["parts"]) percent += part["percent"].get<double>();
        EXPECT_NEAR(percent, 100, 1e-9);
        EXPECT_NE(budget["parts"][0]["words"], "");
        const bool conditional = budget["outcome"].get<std::string>().starts_with("conditional");
        EXPECT_EQ(budget["advice"].empty(), !conditional);
    }
}

TEST_F(JudgedApiOrders, AreDrawnInThePagesColours) {
    const std::string order = "/api/orders/halyard-cloth";
    const json shown = got(order);
    const std::string level = shown["levels"][0];
    for (const Query& query : {Query{{"what", "dots"}, {"level", level}}, Query{},
                               Query{{"what", "curves"}, {"specimen", "W1"}, {"width", "700"}},
                               Query{{"what", "fit"}, {"run", runs_of("halyard-cloth").at(0)}}}) {
        const auto drawn = get(order + "/plot", query);
        ASSERT_EQ(drawn.status, 200) << drawn.body;
        EXPECT_EQ(drawn.type, "image/svg+xml");
        EXPECT_TRUE(drawn.body.starts_with("<svg xmlns=\"http://www.w3.org/2000/svg\" "));
        EXPECT_NE(drawn.body.find("var(--ink)"), std::string::npos);
        // The page's content-security policy forbids these.
        for (const char* forbidden : {"style=", "<style", "<script", "onload", "href"})
            EXPECT_EQ(drawn.body.find(forbidden), std::string::npos) << forbidden;
    }
    bad(get(order + "/plot", {{"what", "lines"}}), 400);
    bad(get(order + "/plot", {{"level", "77 %"}}), 400);
    bad(get(order + "/plot", {{"part", "99"}}), 400);
    bad(get(order + "/plot", {{"width", "1e9"}}), 400);
    bad(get(order + "/plot", {{"what", "curves"}, {"specimen", "<W1>"}}), 400);
    bad(get(order + "/plot", {{"what", "fit"}, {"run", "none"}}), 400);
}

TEST_F(JudgedApiOrders, GiveASmallTraceOfEachRun) {
    const json traces = got("/api/orders/halyard-cloth/traces", {{"points", "40"}})["traces"];
    EXPECT_EQ(traces.size(), runs_of("halyard-cloth").size());
    for (const json& trace : traces) {
        EXPECT_LE(trace["time_s"].size(), 40u);
        EXPECT_EQ(trace["time_s"].size(), trace["specimen_V"].size());
        EXPECT_EQ(trace["time_s"].size(), trace["electrode_V"].size());
    }
}

TEST_F(JudgedApiOrders, AreLeftAloneByEveryGet) {
    const auto before = stand_of(folder_.path());
    const std::string run = "/api/orders/halyard-cloth/runs/" + runs_of("halyard-cloth").at(0);
    for (const std::string& path :
         {std::string("/api/today"), std::string("/api/orders"), std::string("/api/orders/awning-live"),
          std::string("/api/orders/halyard-cloth/plot"), std::string("/api/orders/halyard-cloth/report"), run,
          run + "/trace", run + "/fit", run + "/pedigree", run + "/export", run + "/notes",
          std::string("/api/methods"), std::string("/api/materials")})
        EXPECT_EQ(get(path).status, 200) << path;
    EXPECT_EQ(stand_of(folder_.path()), before);
}

TEST_F(JudgedApiOrders, AreFoundByTheirNamesOnly) {
    for (const char* key : {"..", "../halyard-cloth", "halyard-cloth/../film-insulator", "%2e%2e", "", ".",
                            "<script>alert(1)</script>", "halyard\ncloth", "recordings"}) {
        const auto reply = get(std::string("/api/orders/") + key + "/report");
        EXPECT_EQ(reply.status, 404) << key;
        bad(reply, 404);
    }
    bad(get("/api/orders/" + std::string(1 << 20, 'a')), 404);
    bad(get("/api/orders/halyard-cloth/runs/" + std::string(1 << 20, '/')), 404);
    bad(get("/api/orders/halyard-cloth/runs/../../film-insulator/trace"), 404);
    bad(get("/api/orders/halyard-cloth/reports/..%2forder.toml"), 404);
    bad(get("/api/methods/..%2f..%2fetc"), 404);
    bad(get("/api"), 404);
    bad(get("/"), 404);
    const auto wrong = post("/api/today", json::object());
    bad(wrong, 405);
    EXPECT_EQ(wrong.headers.at(0).second, "GET");
}

TEST_F(ApiOrders, SayWhereTheBenchIsMissing) {
    bad(get("/api/bench"), 409);
    open("", {[](const server::Request& request) {
                  return server::json_reply({{"path", request.path}});
              },
              {}});
    EXPECT_EQ(got("/api/bench")["path"], "/api/bench");
}

TEST_F(ApiOrders, AreJudgedOnceHoweverManyAskAtATime) {
    std::vector<std::thread> askers;
    std::vector<std::string> answers(6);
    for (std::string& answer : answers)
        askers.emplace_back([&] { answer = get("/api/orders/bench-faults").body; });
    for (std::thread& asker : askers) asker.join();
    for (const std::string& answer : answers) EXPECT_EQ(answer, answers.front());
    EXPECT_NE(answers.front().find("\"judgement\":{"), std::string::npos);
}

}  // namespace
