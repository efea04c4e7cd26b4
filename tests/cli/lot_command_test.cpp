// 'ebbtide lot' and 'ebbtide plan' as a person or a script runs them.

#include <gtest/gtest.h>

#include <cmath>

#include "support/agrees.hpp"
#include "support/program.hpp"

namespace {

using namespace ebbtide::testing_support;
using nlohmann::json;

TEST(LotCommand, GivesTheFiguresOfTheHandbook) {
    // NIST/SEMATECH e-Handbook 8.4.1.3: ten ends, ten still running at 500. More digits: R 4.2.2, survreg().
    std::string table = "decay_s,status\n";
    for (const int time : {54, 187, 216, 240, 244, 335, 361, 373, 375, 386})
        table += std::to_string(time) + ",measured\n";
    for (int i = 0; i < 10; ++i) table += "500,not_reached\n";
    const TemporaryFolder folder;
    write_bytes(folder / "times.csv", table);
    const Ran ran = run({"lot", "--times", folder / "times.csv", "--json"});
    ASSERT_EQ(ran.exit, 0) << ran.err;
    const json lot = ran.json();
    EXPECT_EQ(lot["schema"], "ebbtide.lot/1");
    EXPECT_TRUE(agrees(lot["weibull"]["scale_s"], "606.527558"));
    EXPECT_TRUE(agrees(lot["weibull"]["shape"], "1.720797261"));
    EXPECT_TRUE(agrees(lot["weibull"]["log_likelihood"], "-75.13461816"));
    EXPECT_TRUE(agrees(lot["lognormal"]["mu"], "6.226015069"));
    EXPECT_TRUE(agrees(lot["lognormal"]["sigma"], "0.9089140394"));
    EXPECT_TRUE(agrees(lot["lognormal"]["standard_errors"]["mu"], "0.2504395165"));
    EXPECT_TRUE(agrees(lot["lognormal"]["standard_errors"]["ln_sigma"], "0.2484219366"));
    ASSERT_EQ(lot["kaplan_meier"].size(), 10u);
    EXPECT_NEAR(lot["kaplan_meier"].back()["survival"].get<double>(), 0.5, 1e-12);  // ten of twenty
    EXPECT_TRUE(lot["showing"].is_null());                                          // no limit, no claim
}

TEST(LotCommand, SaysWhyAndWhatIsNotProved) {
    const TemporaryFolder folder;
    write_bytes(folder / "times.csv", "decay_s,status\n0.31,measured\n0.22,measured\n0.25,measured\n");
    const Ran ran = run({"lot", "--times", folder / "times.csv", "--limit", "0.5"});
    EXPECT_EQ(ran.exit, 0) << ran.err;
    EXPECT_NE(ran.out.find("Open, neither shown nor refuted"), std::string::npos) << ran.out;
    EXPECT_NE(ran.out.find("what they do not prove"), std::string::npos);
    // Clopper and Pearson's bound for none of three: 1 - 0.05^(1/3).
    EXPECT_NE(ran.out.find("3 within the limit of 3 still allow 63 %"), std::string::npos) << ran.out;
}

TEST(LotCommand, WritesADocumentWithItsFiguresInside) {
    const TemporaryFolder folder;
    write_bytes(folder / "times.csv", "decay_s,status\n0.31,measured\n0.22,measured\n0.5,not_reached\n");
    for (const char* name : {"lot.pdf", "lot.html"}) {
        ASSERT_EQ(run({"lot", "--times", folder / "times.csv", "--limit", "0.5", "-o", folder / name}).exit,
                  0);
        const std::string bytes = bytes_of(folder / name);
        EXPECT_TRUE(bytes.starts_with(name[4] == 'p' ? "%PDF" : "<!")) << name;
    }
    EXPECT_NE(bytes_of(folder / "lot.html").find("lognormal law"), std::string::npos);
    ASSERT_EQ(run({"plan", "-o", folder / "plan.html"}).exit, 0);
    EXPECT_NE(bytes_of(folder / "plan.html").find("by attributes"), std::string::npos);
    EXPECT_EQ(run({"plan", "-o", folder / "plan.txt"}).exit, 2);
}

TEST(LotCommand, RefusesWhatItCannotUse) {
    const TemporaryFolder folder;
    write_bytes(folder / "bad.csv", "decay_s,status\n0.31,measured\nlong,not_reached\n");
    write_bytes(folder / "good.csv", "decay_s\n0.31\n");
    const auto refused = [](const std::vector<std::string>& words, const std::string& because) {
        const Ran ran = run(words);
        EXPECT_EQ(ran.exit, 2) << words[1];
        EXPECT_TRUE(ran.out.empty());
        EXPECT_NE(ran.err.find(because), std::string::npos) << ran.err;
    };
    refused({"lot", "--times", folder / "bad.csv"}, "bad.csv line 3: decay_s 'long' is no number");
    refused({"lot", "--times", folder / "missing.csv"}, "cannot be read");
    refused({"lot", "--times", folder / "good.csv", "--limit", "-1"}, "--limit");
    refused({"lot", "--times", folder / "good.csv", "--share", "1"}, "--share");
    refused({"lot", "--times", folder / "good.csv", "examples/halyard-cloth"}, "both named");
    refused({"lot"}, "no order and no file of times");
    refused({"lot", "examples/halyard-cloth", "--limit", "1"}, "--limit");
    refused({"plan", "--beyond", "0"}, "--beyond");
}

// The example order states how its specimens were sampled; without the plan no claim is made.
TEST(LotCommand, ClaimsNothingOfALotWithoutASamplingPlan) {
    const TemporaryFolder folder;
    const std::string order = folder / "order";
    std::filesystem::copy(EBBTIDE_SOURCE_DIR "/examples/film-insulator", order,
                          std::filesystem::copy_options::recursive);
    const json with = run({"lot", order, "--json"}).json();
    ASSERT_FALSE(with["lots"].empty());
    std::string text = bytes_of(order + "/order.toml");
    const std::size_t begin = text.find("[sampling]");
    ASSERT_NE(begin, std::string::npos);
    text.erase(begin, text.find("\n[", begin + 1) - begin);
    write_bytes(order + "/order.toml", text);
    const json without = run({"lot", order, "--json"}).json();
    ASSERT_EQ(without["lots"].size(), with["lots"].size());
    for (const json& lot : without["lots"]) {
        EXPECT_TRUE(lot["showing"].is_null());
        EXPECT_TRUE(lot["tolerance"].empty());
        EXPECT_EQ(lot["sampling_plan"], "");
    }
}

// A ledger with one order in it has one month: no history. That of three months of the same cloth is one.
TEST(LotCommand, TakesTheHistoryOfALedgersEarlierMonths) {
    const TemporaryFolder folder;
    const std::string ledger = folder / "lab.ledger", example = EBBTIDE_SOURCE_DIR "/examples/halyard-cloth";
    write_bytes(folder / "times.csv", "decay_s\n0.31\n0.33\n0.29\n0.35\n");
    ASSERT_EQ(run({"ledger", "init", "--ledger", ledger}).exit, 0);
    const std::vector<std::string> words{
        "lot",  "--times",    folder / "times.csv", "--limit", "0.5", "--history-ledger",
        ledger, "--material", "Plain-weave",        "--level", "10%", "--json"};
    EXPECT_NE(run(words).err.find("no earlier tests of 'Plain-weave'"), std::string::npos);
    for (const char* month : {"07", "08", "09"}) {
        const std::string order = folder / (std::string("order-") + month);
        std::filesystem::copy(example, order, std::filesystem::copy_options::recursive);
        std::string text = bytes_of(order + "/order.toml");
        const auto replace_all = [&](const std::string& from, const std::string& to) {
            for (std::size_t at = 0; (at = text.find(from, at)) != std::string::npos; at += to.size())
                text.replace(at, from.size(), to);
        };
        replace_all("TP-2026-0914", std::string("TP-2026-") + month + "14");
        replace_all("2026-09-", std::string("2026-") + month + "-");
        write_bytes(order + "/order.toml", text);
        const Ran added = run({"ledger", "add", order, "--ledger", ledger});
        ASSERT_EQ(added.exit, 0) << added.err;
    }
    const Ran ran = run(words);
    ASSERT_EQ(ran.exit, 0) << ran.err;
    const json risk = ran.json()["risk"];
    ASSERT_TRUE(risk["history"].is_object());
    EXPECT_NE(
        risk["history"]["source"].get<std::string>().find("3 months of the ledger from 2026-07 to 2026-09"),
        std::string::npos)
        << risk["history"]["source"];
    EXPECT_GT(risk["conforming"], 0);
    // An order is not its own history: before its month there are only two.
    const Ran own = run({"lot", folder / "order-09", "--history-ledger", ledger, "--level", "10%"});
    EXPECT_EQ(own.exit, 2);
    EXPECT_NE(own.err.find("2 earlier lots are no history"), std::string::npos) << own.err;
}

TEST(LotCommand, RefusesTwoHistories) {
    const TemporaryFolder folder;
    write_bytes(folder / "times.csv", "decay_s\n0.31\n0.33\n");
    const Ran ran = run({"lot", "--times", folder / "times.csv", "--limit", "0.5", "--history",
                         folder / "times.csv", "--stated-history", "0.3", "1.1", "1.2"});
    EXPECT_EQ(ran.exit, 2);
    EXPECT_NE(ran.err.find("more than one history"), std::string::npos) << ran.err;
}

// What the page shows is the statement of the JSON, word for word.
TEST(LotCommand, ReportsOfAnOrderSayOfItsLotsWhatTheCommandSays) {
    const TemporaryFolder folder;
    const std::string order = EBBTIDE_SOURCE_DIR "/examples/halyard-cloth";
    ASSERT_EQ(run({"report", order, "-o", folder / "report.html"}).exit, 0);
    const std::string page = bytes_of(folder / "report.html");
    const json lots = run({"lot", order, "--json"}).json()["lots"];
    ASSERT_FALSE(lots.empty());
    for (const json& lot : lots) {
        if (lot["specimens"] < 2) continue;
        EXPECT_NE(page.find("The lot: " + lot["group"].get<std::string>()), std::string::npos)
            << lot["group"];
        EXPECT_NE(page.find(lot["in_plain_words"].get<std::string>()), std::string::npos)
            << lot["in_plain_words"];
    }
    EXPECT_NE(page.find("90 % of the lot, with 95 % confidence"), std::string::npos);
    EXPECT_NE(page.find("Diamonds: what the share of the lot named takes at most"), std::string::npos);
}

}  // namespace
