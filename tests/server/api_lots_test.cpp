// Lots and comparisons of the served orders: the commands' own answers, and the report's own drawings.

#include <gtest/gtest.h>

#include <fstream>

#include "support/api_desk.hpp"

namespace {

using namespace ebbtide;
using namespace ebbtide::testing_support;
using nlohmann::json;

class ApiLots : public ApiDesk {
  protected:
    // A sample of three specimens says next to nothing of its lot.
    ApiLots() : ApiDesk(std::make_shared<DeskStand>(DeskRuns::all)) {}

    /// A second order of the same specimens' kind: the cloth, under another id.
    void another_cloth() {
        std::filesystem::copy(path("halyard-cloth"), path("halyard-cloth-2"),
                              std::filesystem::copy_options::recursive);
        std::string order = bytes_of(path("halyard-cloth/order.toml"));
        const std::string id = "TP-2026-0914";
        order.replace(order.find(id), id.size(), "TP-2026-0915");
        std::ofstream(path("halyard-cloth-2/order.toml")) << order;
        let_settle(folder_.path());
    }
};

TEST_F(ApiLots, AreDescribedAsTheCommandDescribesThem) {
    another_cloth();
    const std::string one = path("halyard-cloth"), other = path("halyard-cloth-2");
    EXPECT_EQ(got("/api/lots", {{"orders", "halyard-cloth"}}), run({"lot", one, "--json"}).json());
    const json together = got("/api/lots", {{"orders", "halyard-cloth/halyard-cloth-2"}, {"share", "0.8"}});
    EXPECT_EQ(together, run({"lot", one, other, "--share", "0.8", "--json"}).json());
    EXPECT_EQ(together["lots"][0]["orders"].size(), 2u);
    // An order that is named twice is no second sample.
    EXPECT_EQ(got("/api/lots", {{"orders", "halyard-cloth/halyard-cloth/"}}),
              got("/api/lots", {{"orders", "halyard-cloth"}}));
}

TEST_F(ApiLots, AreComparedAsTheCommandComparesThem) {
    another_cloth();
    const std::string one = path("halyard-cloth"), other = path("halyard-cloth-2");
    EXPECT_EQ(got("/api/compare", {{"orders", "halyard-cloth/halyard-cloth-2"}}),
              run({"compare", one, other, "--json"}).json());
    EXPECT_EQ(
        got("/api/compare", {{"orders", "halyard-cloth"}, {"by", "direction,face"}, {"alike_within", "1.5"}}),
        run({"compare", one, "--by", "direction,face", "--alike-within", "1.5", "--json"}).json());
    EXPECT_EQ(bad(get("/api/compare", {{"orders", "halyard-cloth"}}), 400)["where"], "by");
    EXPECT_EQ(bad(get("/api/compare", {{"orders", "halyard-cloth"}, {"by", "colour"}}), 400)["where"], "by");
    EXPECT_EQ(bad(get("/api/compare", {{"orders", "halyard-cloth"}, {"by", "face"}, {"alike_within", "1"}}),
                  400)["where"],
              "alike_within");
}

TEST_F(ApiLots, AreDrawnInThePagesColours) {
    const std::string of = "halyard-cloth";
    const auto is_drawing = [&](const std::string& path, const Query& query) {
        const server::Reply reply = get(path, query);
        EXPECT_EQ(reply.status, 200) << reply.body;
        EXPECT_EQ(reply.type, "image/svg+xml");
        EXPECT_NE(reply.body.find("var(--ink)"), std::string::npos);
        EXPECT_EQ(reply.body.find("style"), std::string::npos);
        return reply.body;
    };
    const std::string probability = is_drawing("/api/lots/plot", {{"orders", of}});
    EXPECT_NE(probability.find("Probability plot"), std::string::npos);
    EXPECT_NE(is_drawing("/api/lots/plot", {{"orders", of}, {"what", "operating"}}), probability);
    EXPECT_NE(is_drawing("/api/lots/plot", {{"orders", of}, {"lot", "2"}}), probability);
    is_drawing("/api/compare/plot", {{"orders", of}, {"by", "direction"}, {"width", "900"}});
    const std::size_t lots = got("/api/lots", {{"orders", of}})["lots"].size();
    bad(get("/api/lots/plot", {{"orders", of}, {"lot", std::to_string(lots + 1)}}), 400);
    bad(get("/api/lots/plot", {{"orders", of}, {"lot", "1.5"}}), 400);
    bad(get("/api/lots/plot", {{"orders", of}, {"what", "pie"}}), 400);
}

TEST_F(ApiLots, TakeTheirRiskFromTheLedgerWhereItIsAsked) {
    bad(get("/api/lots", {{"orders", "halyard-cloth"}, {"history", "ledger"}}), 409);
    const std::string ledger = folder_ / "ledger.ebbl";
    ASSERT_EQ(run({"ledger", "init", "--ledger", ledger}).exit, 0);
    open(ledger);
    const json none = bad(get("/api/lots", {{"orders", "halyard-cloth"}, {"history", "ledger"}}), 400);
    EXPECT_EQ(none["where"], "history");
    EXPECT_NE(none["what"].get<std::string>().find("no earlier tests"), std::string::npos) << none;
}

TEST_F(ApiLots, AreOfServedOrdersOnly) {
    EXPECT_EQ(bad(get("/api/lots"), 400)["where"], "orders");
    EXPECT_EQ(bad(get("/api/lots", {{"orders", "halyard-cloth/.."}}), 404)["where"], "orders");
    EXPECT_EQ(bad(get("/api/lots", {{"orders", "awning-live"}}), 400)["where"], "TP-2026-1127");
    std::string many;
    for (int i = 0; i < 101; ++i) many += std::to_string(i) + "/";
    bad(get("/api/lots", {{"orders", many}}), 400);
    for (const char* share : {"0", "1", "nan", "-1", "9e99"})
        bad(get("/api/lots", {{"orders", "halyard-cloth"}, {"share", share}}), 400);
    bad(get("/api/lots", {{"orders", "halyard-cloth"}, {"confidence", "0.4"}}), 400);
    bad(get("/api/lots", {{"orders", "halyard-cloth"}, {"history", "guessed"}}), 400);
}

}  // namespace
