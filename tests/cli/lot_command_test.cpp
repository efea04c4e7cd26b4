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

}  // namespace
