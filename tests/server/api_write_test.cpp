// What the page changes: an order taken in, files kept in it, its report issued.

#include <gtest/gtest.h>

#include <algorithm>
#include <functional>

#include "support/api_desk.hpp"

namespace {

using namespace ebbtide;
using namespace ebbtide::testing_support;
using nlohmann::json;

using ApiWrites = ApiDesk;
using ApiReads = JudgedDesk;

TEST_F(ApiWrites, TakeAnOrderIn) {
    const json made = good(post("/api/orders", an_intake()), 201);
    EXPECT_EQ(made["key"], "deck-canvas");
    const json order = got("/api/orders/deck-canvas"), sent = an_intake();
    EXPECT_EQ(order["order"]["customer"], sent["customer"]);
    EXPECT_EQ(order["order"]["title"], sent["title"]);
    EXPECT_EQ(order["order"]["due"], "2026-12-04");
    EXPECT_EQ(order["order"]["laboratory"], got("/api/orders/awning-live")["order"]["laboratory"]);
    EXPECT_EQ(order["order"]["decision_rule"]["guard_times_U"], 0.83);
    EXPECT_EQ(order["order"]["specimens"][1]["direction"], "warp");
    EXPECT_EQ(order["order"]["items"][0]["sensitivity"]["humidity_percent_per_decade"], 14);
    EXPECT_EQ(order["bench"], got("/api/orders/awning-live")["bench"]);
    EXPECT_EQ(order["live"], true);
    EXPECT_TRUE(order["judgement"].is_null());
    EXPECT_EQ(bytes_of(path("deck-canvas/bench.toml")), bytes_of(path("awning-live/bench.toml")));
    bad(post("/api/orders", an_intake()), 400);  // the key is taken
}

TEST_F(ApiWrites, KeepHostileTextsAsTheyAreOrRefuseThem) {
    json sent = an_intake();
    const std::string hostile =
        "<img src=x onerror=alert(1)> \"quoted\" 'single' \\ # = [dates]\nissued = 2026-01-01";
    sent["title"] = hostile;
    sent["customer"]["address"] = hostile;
    sent["specimens"][0]["state"] = hostile;
    const auto reply = post("/api/orders", sent);
    if (reply.status == 201) {
        const json order = got("/api/orders/deck-canvas")["order"];
        EXPECT_EQ(order["title"], hostile);
        EXPECT_EQ(order["customer"]["address"], hostile);
        EXPECT_TRUE(order["issued"].is_null()) << "a text is no key";
    } else {
        bad(reply, 400);
    }
    sent["key"] = "other";
    for (const char* key : {"id", "title"}) {
        json long_one = sent;
        long_one[key] = std::string(1 << 20, 'n');
        long_one["key"] = std::string("long-") + key;
        const auto answer = post("/api/orders", long_one);
        if (answer.status == 201)
            EXPECT_EQ(got(std::string("/api/orders/long-") + key)["order"][key], long_one[key]);
        else
            bad(answer, 400);
    }
}

TEST_F(ApiWrites, RefuseAnIntakeByTheNameOfTheField) {
    const auto before = stand_of(folder_.path());
    const auto where = [&](const std::function<void(json&)>& spoil) {
        json sent = an_intake();
        spoil(sent);
        const json error = bad(post("/api/orders", sent), 400);
        return error["where"].get<std::string>() + ": " + error["what"].get<std::string>();
    };
    const auto names = [&](const std::string& text, const char* word) {
        EXPECT_NE(text.find(word), std::string::npos) << text;
    };
    names(where([](json& s) { s.erase("title"); }), "title");
    names(where([](json& s) { s["customer"].erase("address"); }), "customer.address");
    names(where([](json& s) { s["customer"]["adress"] = "x"; }), "customer.adress");
    names(where([](json& s) { s["items"][0]["id"] = 3; }), "items[0].id");
    names(where([](json& s) { s["specimens"] = "D1"; }), "specimens");
    names(where([](json& s) { s["dates"]["due"] = "2026-02-30"; }), "dates.due");
    names(where([](json& s) { s["dates"]["due"] = "2026-12-04\nissued = 2026-01-01"; }), "dates.due");
    names(where([](json& s) { s["dates"].erase("tested_to"); }), "tested_to");
    names(where([](json& s) { s["conditions"][0]["conditioned_from"] = "yesterday"; }), "conditioned_from");
    names(where([](json& s) { s["decision_rule"]["kind"] = "none"; }), "decision_rule.kind");
    names(where([](json& s) { s["decision_rule"]["guard_times_U"] = 99; }), "guard_times_U");
    names(where([](json& s) { s["specimens"][0]["item"] = "T"; }), "item");
    names(where([](json& s) { s["key"] = "../out"; }), "key");
    names(where([](json& s) { s["method"]["file"] = "/etc/passwd.toml"; }), "passwd");
    names(where([](json& s) { s.erase("like"); }), "laboratory");
    json unknown = an_intake();
    unknown["like"] = "../../etc";
    bad(post("/api/orders", unknown), 404);
    for (const char* body : {"", "{", "[]", "3", "{\"a\":\"\xC3\"}", "null"})
        bad(api_->answer({"POST", "/api/orders", {}, body, "application/json"}), 400);
    EXPECT_EQ(stand_of(folder_.path()), before);
}

TEST_F(ApiWrites, EnterConditionsThatBecameKnown) {
    json sent = an_intake();
    sent["conditions"][0] = {{"id", "dry"}, {"relative_humidity_percent", 12}};
    good(post("/api/orders", sent), 201);
    const json known = {{"id", "dry"}, {"temperature_C", 23.4}, {"conditioned_from", "2026-11-25T08:00:00Z"}};
    const json conditions = good(post("/api/orders/deck-canvas/conditions", known))["conditions"][0];
    EXPECT_EQ(conditions["temperature_C"], 23.4);
    EXPECT_EQ(conditions["relative_humidity_percent"], 12);
    bad(post("/api/orders/deck-canvas/conditions", {{"id", "dry"}, {"temperature_C", 20}}), 400);
    open("", {{}, [] { return std::string("deck-canvas"); }});
    bad(post("/api/orders/deck-canvas/conditions",
             {{"id", "dry"}, {"conditioned_to", "2026-11-27T08:00:00Z"}}),
        409);
}

TEST_F(ApiWrites, ShowWhatAFileHoldsAndKeepNothingUntilTold) {
    const auto before = stand_of(folder_.path());
    const std::string bytes = bytes_of(path("film-insulator/recordings/K1-positive-1.csv"));
    const std::string name = "../../<b>K1</b>.csv";
    const json shown = good(post_bytes("/api/imports", bytes, {{"name", name}, {"order", "awning-live"}}));
    EXPECT_EQ(shown["name"], name);
    EXPECT_EQ(shown["runs"].size(), 1u);
    EXPECT_EQ(shown["traces"].size(), 1u);
    EXPECT_NE(shown["recognised"]["dialect"], "");
    EXPECT_EQ(stand_of(folder_.path()), before) << "nothing is kept";

    const std::string id = shown["id"], run = shown["runs"][0]["run"];
    const std::string keep = "/api/imports/" + id + "/keep";
    bad(post(keep, {{"order", "awning-live"}, {"places", {{{"run", "none"}}}}}), 409);
    bad(post(keep, {{"order", "awning-live"}, {"places", {{{"run", run}, {"place", 999}}}}}), 409);
    bad(post(keep, {{"order", "none"}}), 404);
    bad(post("/api/imports/none/keep", {{"order", "awning-live"}}), 404);
    bad(post(keep, {{"order", "film-insulator"}}), 409);  // names no live file

    const json place = got("/api/orders/awning-live")["places"].back();
    const json kept = good(
        post(keep, {{"order", "awning-live"}, {"places", {{{"run", run}, {"place", place["index"]}}}}}), 201);
    EXPECT_EQ(kept["runs"][0]["run"], run);
    EXPECT_EQ(kept["runs"][0]["place"]["specimen"], place["specimen"]);
    const json order = got("/api/orders/awning-live");
    EXPECT_EQ(order["judgement"]["runs"].size(), 1u);
    const json last = order["places"].back();
    EXPECT_EQ(last["run"], run);
    EXPECT_EQ(last["state"], kept["runs"][0]["counts"] == true ? "filled" : "void");
    // Again: it is there already.
    EXPECT_TRUE(good(post(keep, {{"order", "awning-live"}}), 201)["runs"][0]["file"].is_null());
    EXPECT_EQ(got("/api/orders/awning-live")["judgement"]["runs"].size(), 1u);
}

TEST_F(ApiWrites, SayWhatIsNoRecording) {
    bad(post_bytes("/api/imports", "", {{"name", "a"}}), 400);
    bad(post_bytes("/api/imports", std::string(1000, '\0'), {{"name", "a"}}), 400);
    bad(post_bytes("/api/imports", "hello", {{"name", "a"}}), 400);
    bad(post_bytes("/api/imports", "1,2\n", {}), 400);
    bad(post_bytes("/api/imports", "1,2\n", {{"name", std::string(1 << 20, 'n')}}), 400);
    bad(post_bytes("/api/imports", "1,2\n", {{"name", "a"}, {"order", "../x"}}), 404);
    bad(post_bytes("/api/imports", "1,2\n", {{"name", "a"}, {"sample_interval_s", "-1"}}), 400);
}

TEST_F(ApiWrites, HoldNoMoreFilesThanFour) {
    const std::string bytes = bytes_of(path("film-insulator/recordings/K1-positive-1.csv"));
    std::vector<std::string> ids;
    for (int i = 0; i < 5; ++i)
        ids.push_back(good(post_bytes("/api/imports", bytes + std::string(static_cast<std::size_t>(i), '\n'),
                                      {{"name", "a"}}))["id"]);
    bad(post("/api/imports/" + ids[0] + "/keep", {{"order", "awning-live"}}), 404);
    bad(post("/api/imports/" + ids[1] + "/keep", {{"order", "film-insulator"}}), 409);
}

TEST_F(ApiWrites, IssueAReportThatVerifyAccepts) {
    const std::string ledger = ledger_with({});
    open(ledger);
    const std::string report = "/api/orders/bench-faults/report",
                      before = bytes_of(path("bench-faults/order.toml"));
    bad(post(report, {{"who", ""}}), 400);
    bad(post(report, {{"who", "I. Marsh"}, {"paper", "a5"}}), 400);
    bad(post(report, {{"who", "I. Marsh"}, {"issued", "2020-01-01"}}), 400);  // before the tests
    EXPECT_EQ(bytes_of(path("bench-faults/order.toml")), before);
    EXPECT_FALSE(std::filesystem::exists(path("bench-faults/issued/TP-2026-1117-1.pdf")));

    const json issued = good(post(report, {{"who", "I. Marsh"}, {"role", "Head of laboratory"}}), 201);
    EXPECT_EQ(issued["statement"], got("/api/orders/bench-faults")["judgement"]["statement"]);
    EXPECT_EQ(issued["in_ledger"], true);
    const std::string file = path("bench-faults/" + issued["file"].get<std::string>());
    const auto verified = run({"verify", file});
    EXPECT_EQ(verified.exit, 0) << verified.out << verified.err;
    const json order = got("/api/orders/bench-faults");
    EXPECT_EQ(order["order"]["issued"], "2026-11-26");
    EXPECT_EQ(order["order"]["authorised_by"], "I. Marsh");
    ASSERT_EQ(order["reports"].size(), 1u);
    EXPECT_EQ(order["reports"][0]["name"], issued["name"]);
    EXPECT_EQ(order["reports"][0]["revision"], 1);
    const auto read = get("/api/orders/bench-faults/reports/" + issued["name"].get<std::string>());
    EXPECT_EQ(read.body, bytes_of(file));
    EXPECT_EQ(read.type, "application/pdf");
    EXPECT_EQ(
        run({"ledger", "get", order["order"]["id"], "--ledger", ledger, "--output", folder_ / "kept.pdf"})
            .exit,
        0);
    EXPECT_EQ(bytes_of(folder_ / "kept.pdf"), read.body) << "the ledger holds what was issued";
    // Once: a correction is a new revision.
    bad(post(report, {{"who", "I. Marsh"}}), 409);
    EXPECT_EQ(bytes_of(path("bench-faults/earlier/order-20261126T090000Z.toml")), before);
}

TEST_F(ApiWrites, SayWhoIsAtFaultWhereNothingIsIssued) {
    const json by{{"who", "I. Marsh"}};
    bad(post("/api/orders/none/report", by), 404);
    bad(post("/api/orders/awning-live/report", by), 409);  // nothing is recorded
    const std::string order = path("bench-faults/order.toml"), text = bytes_of(order);
    write_bytes(order, "id = 3\n" + text);
    bad(post("/api/orders/bench-faults/report", by), 409);  // nobody who issues can mend that
    write_bytes(order, text);
    write_bytes(path("bench-faults/issued"), "");  // where a folder should be: nothing can be written below
    bad(post("/api/orders/bench-faults/report", by), 500);
    EXPECT_EQ(bytes_of(order), text);
    EXPECT_FALSE(std::filesystem::exists(path("bench-faults/earlier")));
}

TEST_F(ApiWrites, IssueNothingWhileTheBenchWorksOnIt) {
    open("", {{}, [] { return std::string("bench-faults"); }});
    bad(post("/api/orders/bench-faults/report", {{"who", "I. Marsh"}}), 409);
    EXPECT_FALSE(std::filesystem::exists(path("bench-faults/issued")));
}

TEST_F(ApiReads, PreviewWhatWouldBeIssued) {
    const auto html = get("/api/orders/halyard-cloth/report", {{"form", "html"}});
    ASSERT_EQ(html.status, 200);
    EXPECT_TRUE(html.type.starts_with("text/html"));
    EXPECT_NE(html.body.find("TP-2026-0914"), std::string::npos);
    const auto policy = std::ranges::find(html.headers, "Content-Security-Policy",
                                          &std::pair<std::string, std::string>::first);
    ASSERT_NE(policy, html.headers.end());
    EXPECT_EQ(policy->second.find("script-src"), std::string::npos) << "default-src 'none' forbids scripts";
    EXPECT_TRUE(get("/api/orders/halyard-cloth/report", {{"form", "pdf"}, {"paper", "letter"}})
                    .body.starts_with("%PDF"));
    bad(get("/api/orders/halyard-cloth/report", {{"form", "doc"}}), 400);
    bad(get("/api/orders/awning-live/report"), 409);
}

TEST_F(ApiReads, JudgeUnderOtherTermsAsTheCommandDoes) {
    const std::string rejudge = "/api/orders/halyard-cloth/rejudge";
    const auto before = stand_of(folder_.path());
    EXPECT_EQ(
        good(post(rejudge, {{"levels", "1 %"}, {"rule", "guarded:0.02s"}})),
        run({"judge", path("halyard-cloth"), "--levels", "1 %", "--rule", "guarded:0.02s", "--json"}).json());
    EXPECT_EQ(
        good(post(rejudge, {{"specification", "nfpa-99-legacy-specification"}})),
        run({"judge", path("halyard-cloth"), "--specification", "nfpa-99-legacy-specification", "--json"})
            .json());
    EXPECT_EQ(stand_of(folder_.path()), before);
    bad(post(rejudge, json::object()), 400);
    bad(post(rejudge, {{"levels", "0"}}), 400);
    bad(post(rejudge, {{"rule", "kind"}}), 400);
    for (const char* file :
         {"/etc/hosts", "../film-insulator/order.toml", "mil-dtl-44031e-method", "no.toml"})
        bad(post(rejudge, {{"specification", file}}), 400);
}

TEST_F(ApiReads, PredictAsTheCommandDoes) {
    const std::string bench = path("halyard-cloth/bench.toml");
    EXPECT_EQ(good(post("/api/predict", {{"order", "halyard-cloth"},
                                         {"levels", "10 %,1/e"},
                                         {"surface_resistivity_ohm_sq", 1e11},
                                         {"meets_s", 0.5}})),
              run({"predict", "--bench", bench, "--levels", "10 %,1/e", "--surface-resistivity", "1e11",
                   "--meets", "0.5", "--json"})
                  .json());
    EXPECT_EQ(
        good(post("/api/predict", {{"bench", bytes_of(bench)}, {"decay_time_s", 0.5}, {"levels", "0.1"}})),
        run({"predict", "--bench", bench, "--decay-time", "0.5", "--levels", "0.1", "--json"}).json());
    EXPECT_EQ(
        good(post("/api/predict",
                  {{"order", "halyard-cloth"}, {"levels", "0.1"}, {"sweep", "1e9:1e13"}, {"meets_s", 0.5}})),
        run({"predict", "--bench", bench, "--levels", "0.1", "--sweep", "1e9:1e13", "--meets", "0.5",
             "--json"})
            .json());
    bad(post("/api/predict", json::object()), 400);
    bad(post("/api/predict", {{"order", "halyard-cloth"}, {"surface_resistivity_ohm_sq", -1}}), 400);
    bad(post("/api/predict", {{"order", "halyard-cloth"}, {"sweep", "1:2:3"}}), 400);
    bad(post("/api/predict", {{"order", "halyard-cloth"}, {"levels", "0"}, {"decay_time_s", 1}}), 400);
    bad(post("/api/predict", {{"bench", "schema = 3"}, {"decay_time_s", 1}}), 400);
    bad(post("/api/predict", {{"order", "none"}, {"decay_time_s", 1}}), 404);
}

TEST_F(ApiWrites, FindInTheLedgerAsTheCommandDoes) {
    EXPECT_TRUE(got("/api/materials")["ledger"].is_null());
    bad(get("/api/find"), 409);
    const std::string ledger = ledger_with({"halyard-cloth", "bench-faults"});
    open(ledger);
    json found = got("/api/find", {{"material", "cloth"}});
    EXPECT_EQ(found["left_off"], 0);
    found.erase("left_off");
    // Kept there and served here: the order can be opened. One that is gone from the folder cannot.
    for (json& order : found["orders"]) {
        EXPECT_EQ(order["keys"],
                  json::array({order["order"] == "TP-2026-0914" ? "halyard-cloth" : "bench-faults"}));
        order.erase("keys");
    }
    EXPECT_EQ(found, run({"ledger", "find", "--material", "cloth", "--ledger", ledger, "--json"}).json());
    std::filesystem::rename(path("bench-faults"), path(".gone"));
    const json gone = got("/api/find");
    for (const json& order : gone["orders"])
        EXPECT_EQ(order["keys"].empty(), order["order"] != "TP-2026-0914") << order;
    // Of two folders with one id each can be opened.
    std::filesystem::copy(path("halyard-cloth"), path("halyard-copy"),
                          std::filesystem::copy_options::recursive);
    EXPECT_EQ(got("/api/find", {{"order", "TP-2026-0914"}})["orders"][0]["keys"],
              json::array({"halyard-cloth", "halyard-copy"}));
    std::filesystem::remove_all(path("halyard-copy"));
    std::filesystem::rename(path(".gone"), path("bench-faults"));
    const json both = got("/api/find"), one = got("/api/find", {{"limit", "1"}});
    EXPECT_EQ(both["left_off"], 0);
    EXPECT_EQ(one["left_off"], 1);
    EXPECT_EQ(one["orders"], json::array({both["orders"][0]})) << "the newest, whole";
    EXPECT_EQ(got("/api/materials/trend", {{"material", "cloth"}, {"by", "month"}, {"level", "10 %"}}),
              run({"ledger", "trend", "--material", "cloth", "--by", "month", "--level", "10 %", "--ledger",
                   ledger, "--json"})
                  .json());
    const json materials = got("/api/materials");
    EXPECT_EQ(materials["ledger"], "ledger.ebbl");
    EXPECT_GE(materials["materials"].size(), 2u);
    bad(get("/api/find", {{"statement", "perfect"}}), 400);
    bad(get("/api/find", {{"from", "soon"}}), 400);
    bad(get("/api/find", {{"limit", "0"}}), 400);
    bad(get("/api/materials/trend", {{"by", "day"}}), 400);
    EXPECT_TRUE(got("/api/find", {{"customer", "'; DROP TABLE entry; --"}})["orders"].empty());
    open(folder_ / "missing.ebbl");
    bad(get("/api/find"), 409);
}

TEST_F(ApiReads, ReadShippedDocuments) {
    const json methods = got("/api/methods")["documents"];
    ASSERT_FALSE(methods.empty());
    for (const json& one : methods) {
        EXPECT_EQ(one["kind"], "method");
        EXPECT_FALSE(one["summary"].empty());
    }
    const json house = got("/api/methods/sheet-goods-house-method");
    EXPECT_EQ(house["toml"], bytes_of(EBBTIDE_SOURCE_DIR "/methods/sheet-goods-house-method.toml"));
    EXPECT_EQ(house["understood"], got("/api/orders/awning-live")["method"]);
    const auto orders = house["document"]["orders"].get<std::vector<std::string>>();
    EXPECT_TRUE(std::ranges::count(orders, "awning-live") == 1);
    bad(get("/api/methods/sheet-goods-house-specification"), 404);
    EXPECT_EQ(got("/api/specifications/sheet-goods-house-specification")["document"]["kind"],
              "specification");
}

}  // namespace
