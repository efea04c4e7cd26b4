// ebbtide fit, run as a person or a script runs it.

#include <gtest/gtest.h>

#include <cmath>
#include <functional>
#include <random>

#include "support/program.hpp"

namespace {

using namespace ebbtide::testing_support;
using nlohmann::json;

const std::string recording = "examples/halyard-cloth/recordings/W1.csv",
                  bench = "examples/halyard-cloth/bench.toml";

/// Points of a curve with noise of 2 V; `third` makes a third column, or nothing.
std::string points_of(const std::function<double(double)>& curve, const std::string& between,
                      const std::string& heading = "", const std::function<double(double)>& third = {}) {
    std::mt19937_64 random(20261127);
    std::normal_distribution<double> normal;
    std::ostringstream out;
    out.precision(12);
    out << heading;
    for (int i = 0; i < 800; ++i) {
        const double t = 0.01 * i;
        out << t << between << curve(t) + (third ? third(t) : 2) * normal(random);
        if (third) out << between << third(t);
        out << '\n';
    }
    return out.str();
}

/// 1000 V through one second to 20 V.
double decay(double t) {
    return 980 * std::exp(-t / 1.0) + 20;
}
std::string decay_text(const std::string& between, const std::string& heading = "") {
    return points_of(decay, between, heading);
}

json first_run(const Ran& ran) {
    EXPECT_EQ(ran.exit, 0) << ran.err;
    return ran.json()["files"][0]["runs"][0];
}

/// No number is NaN or infinite: such text would not have parsed; a model that converged has all its numbers.
void expect_whole(const json& law) {
    for (const json& model : law["models"]) {
        if (model["outcome"] != "converged") continue;
        for (const auto& [name, value] : model["parameters"].items()) EXPECT_TRUE(value.is_number()) << name;
        EXPECT_TRUE(model["rss"].is_number());
    }
}

TEST(FitCommand, GivesTheTimeConstantWithItsError) {
    const TemporaryFolder folder;
    for (const std::string between : {",", ";", "\t", "  "}) {
        write_bytes(folder / "curve.txt", decay_text(between, "time voltage\n# a remark\n"));
        const json model = first_run(
            run({"fit", "--xy", folder / "curve.txt", "--law", "exponential", "--json"}))["models"][0];
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
    const json law = first_run(run({"fit", "--xy", folder / "curve.csv", "--json"}));
    EXPECT_GE(law["models"].size(), 5u);
    EXPECT_EQ(law["chosen"], "exponential");
    EXPECT_EQ(law["adequate"], true);
    double weights = 0;
    for (const json& model : law["models"]) weights += model["weight"].get<double>();
    EXPECT_NEAR(weights, 1, 1e-12);
    expect_whole(law);
}

TEST(FitCommand, SaysSoWhenNoLawDescribesTheCurve) {
    const TemporaryFolder folder;
    // A fall with a swell on it: no sum of these laws.
    write_bytes(folder / "swell.csv",
                points_of([](double t) { return decay(t) + 40 * std::sin(5 * t); }, ","));
    EXPECT_EQ(first_run(run({"fit", "--xy", folder / "swell.csv", "--json"}))["adequate"], false);
    const Ran text = run({"fit", "--xy", folder / "swell.csv"});
    EXPECT_NE(text.out.find("none of these describes"), std::string::npos) << text.out;
}

TEST(FitCommand, TakesAStatedOffset) {
    const TemporaryFolder folder;
    write_bytes(folder / "curve.csv", decay_text(","));
    const auto model = [&](const std::string& offset) {
        return first_run(run({"fit", "--xy", folder / "curve.csv", "--law", "exponential", "--offset", offset,
                              "--json"}))["models"][0];
    };
    EXPECT_NEAR(model("20")["parameters"]["time_constant_s"].get<double>(), 1, 0.005);
    EXPECT_FALSE(model("20")["parameters"].contains("offset_V"));
    EXPECT_GT(model("zero")["parameters"]["time_constant_s"].get<double>(), 1.02);
}

TEST(FitCommand, AsksWhatAThirdColumnIs) {
    const TemporaryFolder folder;
    const auto sigma = [](double t) { return t < 2 ? 8.0 : 1.0; };
    write_bytes(folder / "weighted.csv", points_of(decay, ",", "t,V,s\n", sigma));
    const Ran unsaid = run({"fit", "--xy", folder / "weighted.csv"});
    EXPECT_EQ(unsaid.exit, 2);
    EXPECT_NE(unsaid.err.find("--sigma"), std::string::npos) << unsaid.err;
    const auto error_of = [&](const std::string& file, const std::string& kind) {
        return first_run(run({"fit", "--xy", folder / file, "--law", "exponential", "--sigma", kind,
                              "--json"}))["models"][0]["standard_errors"]["time_constant_s"]
            .get<double>();
    };
    // Ten times the sigmas: absolute ones make the error ten times as large, relative ones change nothing.
    write_bytes(folder / "tenfold.csv", points_of(decay, ",", "", [&](double t) { return sigma(t); }));
    std::istringstream lines(bytes_of(folder / "tenfold.csv"));
    std::string tenfold;
    for (std::string line; std::getline(lines, line);) tenfold += line + "0\n";  // 8 is 80, 1 is 10
    write_bytes(folder / "tenfold.csv", tenfold);
    const double absolute = error_of("weighted.csv", "absolute"),
                 relative = error_of("weighted.csv", "relative");
    EXPECT_NEAR(absolute, relative, 0.2 * absolute) << "the sigmas are the true ones";
    EXPECT_NEAR(error_of("tenfold.csv", "absolute"), 10 * absolute, 1e-6 * absolute);
    EXPECT_NEAR(error_of("tenfold.csv", "relative"), relative, 1e-6 * relative);
    write_bytes(folder / "nought.csv", "0,100,1\n1,50,0\n2,25,1\n");
    EXPECT_EQ(run({"fit", "--xy", folder / "nought.csv", "--sigma", "absolute"}).exit, 2);
    EXPECT_EQ(run({"fit", "--xy", folder / "weighted.csv", "--sigma", "some"}).exit, 2);
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

TEST(FitCommand, RefusesOptionsThatItWouldOtherwiseIgnore) {
    const TemporaryFolder folder;
    write_bytes(folder / "curve.csv", decay_text(","));
    const auto refused = [](std::vector<std::string> arguments, const std::string& word) {
        arguments.insert(arguments.begin(), "fit");
        const Ran ran = run(arguments);
        EXPECT_EQ(ran.exit, 2);
        EXPECT_NE(ran.err.find(word), std::string::npos) << ran.err;
    };
    refused({}, "no file");
    refused({recording, "--xy", folder / "curve.csv"}, "both");
    refused({recording, "--sigma", "absolute"}, "--sigma");
    refused({"--xy", folder / "curve.csv", "--bench", bench}, "--bench");
    refused({"--xy", folder / "curve.csv", "--law", "hanging_sheet"}, "--bench");
    refused({recording, "--law", "hanging_sheet"}, "--bench");
    refused({recording, "--levels", "2"}, "--levels");
}

TEST(FitCommand, FitsEveryRunOfARecordingAndOfAPipe) {
    const Ran named = run({"fit", recording, "--bench", bench, "--json"});
    ASSERT_EQ(named.exit, 0) << named.err;
    const json runs = named.json()["files"][0]["runs"];
    ASSERT_EQ(runs.size(), 2u);
    const json measured = run({"measure", recording, "--bench", bench, "--json"}).json()["files"][0]["runs"];
    for (std::size_t i = 0; i < 2; ++i) {
        EXPECT_EQ(runs[i]["run"], measured[i]["run"]);
        EXPECT_EQ(runs[i]["chosen"], measured[i]["law"]["chosen"]) << "measure gains the same law";
        EXPECT_EQ(runs[i]["models"], measured[i]["law"]["models"]);
        EXPECT_EQ(runs[i]["lag_s"].get<double>(), 0.005) << "the bench states it";
        EXPECT_GE(runs[i]["residuals"].size(), 20u);
        expect_whole(runs[i]);
        // Zero is measured, so the law ends there.
        for (const json& model : runs[i]["models"]) EXPECT_FALSE(model["parameters"].contains("offset_V"));
    }
    Call piped;
    piped.arguments = {"fit", "-", "--bench", bench, "--json"};
    piped.input = bytes_of(std::string(EBBTIDE_SOURCE_DIR "/") + recording);
    EXPECT_EQ(run(piped).json()["files"][0]["runs"], runs);
}

TEST(FitCommand, LetsTheOffsetOfARecordingGo) {
    const json law = first_run(run({"fit", recording, "--law", "exponential", "--offset", "free", "--json"}));
    ASSERT_EQ(law["models"].size(), 1u);
    EXPECT_TRUE(law["models"][0]["parameters"].contains("offset_V"));
}

TEST(FitText, FitsTheScreenAndDrawsWhatIsLeft) {
    const Ran ran = run({"fit", recording, "--bench", bench});
    ASSERT_EQ(ran.exit, 0) << ran.err;
    std::istringstream lines(ran.out);
    std::size_t dotted = 0;
    for (std::string line; std::getline(lines, line);) {
        std::size_t columns = 0, braille = 0;
        for (const char c : line) columns += (static_cast<unsigned char>(c) & 0xC0u) != 0x80u;
        for (std::size_t at = line.find("\xE2\xA0"); at != std::string::npos;
             at = line.find("\xE2\xA0", at + 1))
            ++braille;
        dotted += braille > 10;
        EXPECT_LE(columns, 80u) << line;
        EXPECT_EQ(line.find('\x1b'), std::string::npos) << "no colour is needed";
    }
    EXPECT_GE(dotted, 6u) << "a strip for each of two runs";
    EXPECT_NE(ran.out.find("time_constant_"), std::string::npos);
}

TEST(MeasureText, GainsTheLawAndTheMonteCarloLine) {
    const Ran ran = run({"measure", recording, "--bench", bench});
    ASSERT_EQ(ran.exit, 0) << ran.err;
    EXPECT_NE(ran.out.find("law  "), std::string::npos) << ran.out;
    EXPECT_NE(ran.out.find("Monte Carlo "), std::string::npos) << ran.out;
    EXPECT_NE(ran.out.find("; slopes "), std::string::npos) << ran.out;
    std::istringstream lines(ran.out);
    for (std::string line; std::getline(lines, line);) {
        std::size_t columns = 0;
        for (const char c : line) columns += (static_cast<unsigned char>(c) & 0xC0u) != 0x80u;
        EXPECT_LE(columns, 80u) << line;
    }
}

TEST(MeasureText, NeverShowsAnExtrapolatedTimeWithoutTheWord) {
    // The record of a film that hardly discharges ends above its levels.
    const Ran ran = run({"measure", "examples/film-insulator/recordings/K1-positive-1.csv", "--bench",
                         "examples/film-insulator/bench.toml", "--levels", "0.1,0.01"});
    ASSERT_EQ(ran.exit, 0) << ran.err;
    std::istringstream lines(ran.out);
    for (std::string line; std::getline(lines, line);)
        if (line.find("≈") != std::string::npos) {
            EXPECT_NE(line.find("extrapolated"), std::string::npos) << line;
        }
}

}  // namespace
