// ebbtide fit, run as a person or a script runs it.

#include <gtest/gtest.h>

#include <cmath>
#include <random>

#include "support/program.hpp"

namespace {

using namespace ebbtide::testing_support;
using nlohmann::json;

/// 1000 V through one second to 20 V, noise 2 V.
std::string decay_text(const std::string& between, const std::string& heading = "") {
    std::mt19937_64 random(20261127);
    std::normal_distribution<double> normal;
    std::ostringstream out;
    out.precision(12);
    out << heading;
    for (int i = 0; i < 800; ++i) {
        const double t = 0.01 * i;
        out << t << between << 980 * std::exp(-t / 1.0) + 20 + 2 * normal(random) << '\n';
    }
    return out.str();
}

TEST(FitCommand, GivesTheTimeConstantWithItsError) {
    const TemporaryFolder folder;
    for (const std::string between : {",", ";", "\t", "  "}) {
        write_bytes(folder / "curve.txt", decay_text(between, "time voltage\n# a remark\n"));
        const Ran ran = run({"fit", "--xy", folder / "curve.txt", "--law", "exponential", "--json"});
        ASSERT_EQ(ran.exit, 0) << ran.err;
        const json model = ran.json()["files"][0]["runs"][0]["models"][0];
        const double value = model["parameters"]["time_constant_s"],
                     error = model["standard_errors"]["time_constant_s"];
        EXPECT_LT(error, 0.002);
        EXPECT_NEAR(value, 1, 4 * error);
        EXPECT_NEAR(model["parameters"]["offset_V"].get<double>(), 20, 1);
        EXPECT_EQ(model["standings"]["amplitude_V"], "free");
    }
}

TEST(FitCommand, ChoosesAmongAllLaws) {
    const TemporaryFolder folder;
    write_bytes(folder / "curve.csv", decay_text(","));
    const json file = run({"fit", "--xy", folder / "curve.csv", "--json"}).json()["files"][0];
    EXPECT_EQ(file["runs"][0]["models"].size(), 5u);
    EXPECT_EQ(file["runs"][0]["chosen"], "exponential");
    EXPECT_EQ(file["runs"][0]["adequate"], true);
}

TEST(FitCommand, TakesAStatedOffset) {
    const TemporaryFolder folder;
    write_bytes(folder / "curve.csv", decay_text(","));
    const auto model = [&](const std::string& offset) {
        return run({"fit", "--xy", folder / "curve.csv", "--law", "exponential", "--offset", offset,
                    "--json"})
            .json()["files"][0]["runs"][0]["models"][0];
    };
    EXPECT_NEAR(model("20")["parameters"]["time_constant_s"].get<double>(), 1, 0.005);
    EXPECT_FALSE(model("20")["parameters"].contains("offset_V"));
    EXPECT_GT(model("zero")["parameters"]["time_constant_s"].get<double>(), 1.02);
}

TEST(FitCommand, SaysWhereAFileIsWrong) {
    const TemporaryFolder folder;
    write_bytes(folder / "bad.csv", "t,V\n0,100\n1,5x\n2,10\n");
    const Ran ran = run({"fit", "--xy", folder / "bad.csv"});
    EXPECT_EQ(ran.exit, 2);
    EXPECT_NE(ran.err.find("bad.csv line 3"), std::string::npos) << ran.err;
    write_bytes(folder / "short.csv", "0,1\n1,0.5\n");
    EXPECT_EQ(run({"fit", "--xy", folder / "short.csv", "--json"}).exit, 2);
    write_bytes(folder / "good.csv", decay_text(","));
    EXPECT_EQ(run({"fit", "--xy", folder / "good.csv", folder / "bad.csv"}).exit, 3);
    EXPECT_EQ(run({"fit", "--xy", folder / "good.csv", "--law", "linear"}).exit, 2);
    EXPECT_EQ(run({"fit", "--xy", folder / "good.csv", "--offset", "some"}).exit, 2);
}

}  // namespace
