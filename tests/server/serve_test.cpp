// The server as a whole: what it refuses to start with, and what it hands out.

#include "server/serve.hpp"

#include <gtest/gtest.h>

#include "server/page_files.hpp"
#include "server/served_order.hpp"

namespace ebbtide::server {
namespace {

using namespace testing_support;

TEST(Serve, RefusesToStartOnWhatIsNotThere) {
    const OrderToServe order;
    const auto refused = [&](auto change) {
        ServeRequest request = order.request();
        change(request);
        const auto open = Serving::open(request);
        EXPECT_FALSE(open.ok());
        return open.ok() ? std::string() : open.error().text();
    };
    EXPECT_NE(refused([](auto& r) { r.desk.folder = "nowhere"; }).find("no such folder"), std::string::npos);
    EXPECT_NE(refused([](auto& r) { r.desk.ledger = "nowhere"; }).find("no such ledger"), std::string::npos);
    EXPECT_NE(refused([](auto& r) { r.desk.simulated = "nowhere"; }), "");
    EXPECT_NE(refused([](auto& r) { r.desk.pace = "slowly"; }).find("pace"), std::string::npos);
    EXPECT_NE(refused([](auto& r) { r.address = "0.0.0.0"; }).find("Nobody signs in"), std::string::npos);
}

TEST(Serve, HandsOutThePageOrSaysWhyThereIsNone) {
    const OrderToServe order;
    const Served served(order.request());
    const auto page = served.client.get("/");
    if (page_files().empty()) {
        EXPECT_EQ(page.status, 503);
        EXPECT_NE(page.body.find("./dev build"), std::string::npos);
    } else {
        EXPECT_EQ(page.status, 200);
        for (const PageFile& file : page_files()) {
            const auto answer = served.client.get(std::string(file.path));
            EXPECT_EQ(answer.status, 200) << file.path;
            EXPECT_EQ(answer.body, file.bytes);
            EXPECT_EQ(answer.header("Content-Type"), file.type);
        }
    }
    EXPECT_EQ(served.client.get("/nothing").status, 404);
    EXPECT_EQ(served.client.post("/", nlohmann::json::object()).status, 405);
    EXPECT_EQ(served.client.get("/api/nothing").json()["schema"], "ebbtide.error/1");
    EXPECT_EQ(served.client.get("/api/today").status, 200);
    EXPECT_EQ(served.client.get("/api/openapi.json").status, 200);
}

TEST(Serve, GivesNothingToWhoLacksTheToken) {
    const OrderToServe order;
    const Served served(order.request());
    for (const std::string path : {"/", "/page.js", "/api/today", "/api/live", "/api/bench", "/nothing"}) {
        Client stranger{served.client.port, std::string(32, 'f')};
        const auto answer = stranger.get(path);
        EXPECT_EQ(answer.status, 401) << path;
        EXPECT_EQ(answer.body.find(served.client.token), std::string::npos);
    }
}

TEST(Serve, ServesWithoutABench) {
    const OrderToServe order;
    auto request = order.request();
    request.desk.simulated = "";
    const Served served(request);
    EXPECT_EQ(served.bench()["benches"][0]["simulated"], false);
    const auto refused = served.client.post("/api/bench/start",
                                            {{"order", awning_key}, {"who", "TO"}, {"override", "a test"}});
    EXPECT_EQ(refused.status, 400);
    EXPECT_NE(refused.json()["what"].get<std::string>().find("no bench"), std::string::npos);
    EXPECT_TRUE(served.session().is_null());
}

}  // namespace
}  // namespace ebbtide::server
