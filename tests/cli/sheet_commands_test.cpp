// ebbtide infer, predict and calibrate-fixture, run as a person or a script runs them.

#include <gtest/gtest.h>

#include "support/documented_keys.hpp"
#include "support/program.hpp"
#include "support/sheet_recording.hpp"

namespace {

using namespace ebbtide::testing_support;
using nlohmann::json;

class SheetCommands : public ::testing::Test {
  protected:
    void SetUp() override {
        write_bytes(bench_, sheet_bench_toml());
        write_bytes(trace_, csv_of({}, 1));
        SheetRecording none;
        none.uncharged = true;
        write_bytes(empty_, csv_of(none, 2));
    }
    TemporaryFolder folder_;
    const std::string bench_ = folder_ / "bench.toml", trace_ = folder_ / "sheet.csv",
                      empty_ = folder_ / "empty.csv";
};

TEST_F(SheetCommands, InferWritesExactlyTheDocumentedKeys) {
    const json document = run({"infer", trace_, "--bench", bench_, "--ring-resistance", "5e10",
                               "--ring-diameters", "30.5,57.2", "--u-ring", "0.1", "--json"})
                              .json();
    EXPECT_EQ(document["schema"], "ebbtide.infer/1");
    const json file = document["files"][0];
    EXPECT_EQ(keys_of(file), documented("infer.md", "### A file"));
    EXPECT_EQ(file["operator"], "hanging");
    EXPECT_EQ(file["capacitance_source"], "by_lengths");
    const json one = file["runs"][0];
    EXPECT_EQ(keys_of(one), documented("infer.md", "### A run"));
    EXPECT_EQ(one["state"], "determined");
    EXPECT_EQ(one["told"], "product");
    for (const char* key :
         {"time_constant_s", "resistance_capacitance_s_m2", "surface_resistivity_ohm_sq", "second"})
        EXPECT_EQ(keys_of(one[key]), documented("infer.md", "### An estimate"));
    EXPECT_EQ(keys_of(one["rings"]), documented("infer.md", "### Rings"));
    // A refused file has the same keys.
    const Ran refused = run({"infer", "no-such-file", "--bench", bench_, "--json"});
    EXPECT_EQ(refused.exit, 2);
    EXPECT_EQ(keys_of(refused.json()["files"][0]), keys_of(file));
}

TEST_F(SheetCommands, InferSaysInWordsThatOnlyTheProductIsKnown) {
    const Ran ran = run({"infer", trace_, "--bench", bench_});
    EXPECT_EQ(ran.exit, 0) << ran.err;
    EXPECT_NE(ran.out.find("only R_s times c"), std::string::npos) << ran.out;
    EXPECT_NE(ran.out.find("not calibrated"), std::string::npos);
    EXPECT_EQ(ran.out.find("surface resistivity"), std::string::npos);
}

TEST_F(SheetCommands, InferNeverCallsAnEmptyFixtureAConductor) {
    const Ran words = run({"infer", empty_, "--bench", bench_});
    EXPECT_NE(words.out.find("took no charge"), std::string::npos) << words.out;
    const json one = run({"infer", empty_, "--bench", bench_, "--json"}).json()["files"][0]["runs"][0];
    EXPECT_EQ(one["state"], "took_no_charge");
    EXPECT_EQ(one["told"], "nothing");
    EXPECT_TRUE(one["surface_resistivity_ohm_sq"]["value"].is_null());
    EXPECT_TRUE(one["surface_resistivity_ohm_sq"]["high"].is_null());
}

TEST_F(SheetCommands, CalibrationTurnsAProductIntoAResistivity) {
    const std::string next = folder_ / "bench-2.toml";
    const std::vector<std::string> calibrate{"calibrate-fixture",
                                             trace_,
                                             "--bench",
                                             bench_,
                                             "--reference-resistivity",
                                             "5e11",
                                             "--u-reference",
                                             "0.03",
                                             "--date",
                                             "2026-03-14",
                                             "--humidity",
                                             "50",
                                             "--temperature",
                                             "23"};
    const Ran printed = run(calibrate);
    EXPECT_EQ(printed.exit, 0) << printed.err;
    EXPECT_NE(printed.out.find("[[fixture_calibration]]\nquantity = \"capacitance\"\n"), std::string::npos);
    EXPECT_NE(printed.out.find("done = 2026-03-14\n"), std::string::npos);
    EXPECT_EQ(bytes_of(bench_), sheet_bench_toml()) << "nobody's file is changed";
    std::vector<std::string> into = calibrate;
    into.insert(into.end(), {"--into", next, "--revision", "2"});
    EXPECT_EQ(run(into).exit, 0);
    EXPECT_EQ(run(into).exit, 2) << "nor written over";
    const json one = run({"infer", trace_, "--bench", next, "--json"}).json()["files"][0]["runs"][0];
    EXPECT_EQ(one["told"], "resistivity");
    EXPECT_NEAR(one["surface_resistivity_ohm_sq"]["value"].get<double>(), 5e11, 1e-6 * 5e11);
    const json asked =
        run({"predict", "--decay-time", "0.5", "--level", "10%", "--bench", next, "--json"}).json();
    EXPECT_EQ(asked["capacitance_source"], "calibrated");
    EXPECT_EQ(run({"calibrate-fixture", empty_, "--bench", bench_, "--empty"}).exit, 0);
    for (const std::vector<std::string>& wrong :
         std::vector<std::vector<std::string>>{{},
                                               {"--empty", "--reference-resistivity", "1e11"},
                                               {"--reference-resistivity", "1e11"},
                                               {"--check-standard", "1e9", "--u-reference", "0.1"},
                                               {"--empty", "--into", "x.toml"},
                                               {"--empty", "--date", "2026-02-30"},
                                               {"--empty", "--humidity", "120"}}) {
        std::vector<std::string> words{"calibrate-fixture", empty_, "--bench", bench_};
        words.insert(words.end(), wrong.begin(), wrong.end());
        EXPECT_EQ(run(words).exit, 2);
    }
}

TEST_F(SheetCommands, PredictWritesExactlyTheDocumentedKeys) {
    const json document = run({"predict", "--sweep", "1e9:1e13", "--meets", "0.5", "--level", "10%",
                               "--bench", bench_, "--json"})
                              .json();
    EXPECT_EQ(keys_of(document), documented("predict.md", "## ebbtide.predict/1"));
    EXPECT_EQ(document["schema"], "ebbtide.predict/1");
    ASSERT_EQ(document["sweep"].size(), 13u);
    EXPECT_EQ(keys_of(document["sweep"][0]), documented("predict.md", "### A sheet"));
    EXPECT_EQ(keys_of(document["sweep"][0]["levels"][0]), documented("predict.md", "### A predicted level"));
    EXPECT_TRUE(document["asked"].is_null());
    EXPECT_TRUE(document["highest_that_meets_ohm_sq"].is_number());
}

TEST_F(SheetCommands, PredictReckonsASheetWithAPatch) {
    const std::string map = folder_ / "sheet-map.toml";
    write_bytes(map,
                "schema = \"ebbtide.sheet_map/1\"\nwidth_mm = 40\ncell_mm = 2\n"
                "surface_resistivity_ohm_sq = 1e11\n[[patch]]\nalong_from_mm = 20\nalong_to_mm = 40\n"
                "across_from_mm = 10\nacross_to_mm = 30\nsurface_resistivity_ohm_sq = 1e9\n");
    const std::vector<std::string> asked{
        "predict", "--map", map, "--backing-capacitance", "1e-7", "--bench", bench_, "--level", "10%"};
    const Ran words = run(asked);
    EXPECT_EQ(words.exit, 0) << words.err;
    EXPECT_NE(words.out.find("as an even sheet of"), std::string::npos) << words.out;
    std::vector<std::string> with_json = asked;
    with_json.push_back("--json");
    const json document = run(with_json).json();
    EXPECT_EQ(keys_of(document), documented("predict.md", "## ebbtide.predict/1"));
    EXPECT_EQ(keys_of(document["map"]), documented("predict.md", "### A map"));
    EXPECT_EQ(keys_of(document["map"]["levels"][0]), documented("predict.md", "### A level of a map"));
    EXPECT_TRUE(document["asked"].is_null());
    EXPECT_LT(document["map"]["levels"][0]["even_ohm_sq"].get<double>(), 1e11);
    for (const std::vector<std::string>& wrong : std::vector<std::vector<std::string>>{
             {"--surface-resistivity", "1e11"}, {"--sweep", "1e9:1e10"}, {"--decay-time", "1"}}) {
        std::vector<std::string> both = asked;
        both.insert(both.end(), wrong.begin(), wrong.end());
        EXPECT_EQ(run(both).exit, 2) << wrong.front();
    }
    EXPECT_EQ(run({"predict", "--map", map, "--bench", bench_}).exit, 2) << "a sheet that hangs has no map";
    EXPECT_EQ(run({"predict", "--map", bench_, "--backed", "--bench", bench_}).exit, 2);
}

TEST_F(SheetCommands, PredictKnowsOfPoorContacts) {
    const auto time_s = [&](const std::string& contact) {
        return run({"predict", "--surface-resistivity", "1e11", "--contact", contact, "--level", "10%",
                    "--bench", bench_, "--json"})
            .json()["asked"]["levels"][0]["decay_s"]
            .get<double>();
    };
    EXPECT_GT(time_s("1e10"), 1.5 * time_s("0"));
    EXPECT_EQ(run({"predict", "--surface-resistivity", "1e11", "--contact", "-1", "--bench", bench_}).exit,
              2);
}

TEST_F(SheetCommands, MeasureNamesAWrongCheckStandard) {
    // The example's standard, and one whose resistance is 1.4 times that. The known time: R (C + Cs + Cc)
    // ln((1 - Cc / sum) / p), 1.5e9 ohm, 105 pF, Cc 2 pF: 0.1575 s times 2.2834.
    const std::string known_s = "0.36";
    const std::string example = EBBTIDE_SOURCE_DIR "/examples/bench-faults", bench = folder_ / "checked.toml";
    write_bytes(bench, bytes_of(example + "/bench.toml") +
                           "\n[check]\nvalid_h = 24\nvoltage_V = 5000\nsecond_voltage_V = 2500\nhold_s = 5\n"
                           "zero_limit_V = 30\nspan_tolerance = 0.03\nlinearity_tolerance = 0.02\n"
                           "induced_tolerance = 0.02\nstandard_level = \"10 %\"\nstandard_decay_s = " +
                           known_s +
                           "\nstandard_tolerance = 0.05\npolarity_tolerance = 0.03\n"
                           "blank_accepted_most = 0.05\n");
    const auto flags = [&](const std::string& file) {
        std::string out;
        const json document =
            run({"measure", example + "/recordings/" + file, "--bench", bench, "--check-standard", "--json"})
                .json();
        for (const json& flag : document["files"][0]["runs"][0]["flags"])
            out += flag["code"].get<std::string>() + " ";
        return out;
    };
    EXPECT_EQ(flags("check-standard.csv").find("bench_check_failed"), std::string::npos);
    EXPECT_NE(flags("wrong-check-standard.csv").find("bench_check_failed"), std::string::npos);
    // Whose time is nobody's to know without the bench file's word.
    EXPECT_EQ(run({"measure", example + "/recordings/check-standard.csv", "--bench", example + "/bench.toml",
                   "--check-standard"})
                  .exit,
              2);
}

TEST_F(SheetCommands, PredictAnswersHalfASecondInOneCommand) {
    const Ran ran = run({"predict", "--decay-time", "0.5", "--level", "10%", "--bench", bench_});
    EXPECT_EQ(ran.exit, 0) << ran.err;
    EXPECT_NE(ran.out.find("needs a surface resistivity of 5.4"), std::string::npos) << ran.out;
    EXPECT_NE(ran.out.find("backed"), std::string::npos) << "how far the other operator differs";
}

TEST_F(SheetCommands, PredictDrawsItsSweep) {
    for (const auto& [name, start] :
         {std::pair{"sweep.svg", "<svg xmlns"}, {"sweep.png", "\x89PNG"}, {"sweep.pdf", "%PDF"}}) {
        const std::string file = folder_ / name;
        const Ran ran = run({"predict", "--sweep", "1e9:1e13", "--meets", "0.5", "--level", "10%,1%",
                             "--bench", bench_, "-o", file});
        EXPECT_EQ(ran.exit, 0) << ran.err;
        EXPECT_TRUE(bytes_of(file).starts_with(start)) << name;
        EXPECT_NE(ran.out.find("does not"), std::string::npos);
    }
    EXPECT_EQ(run({"predict", "--sweep", "1e9:1e13", "--bench", bench_, "-o", folder_ / "sweep.gif"}).exit,
              2);
    EXPECT_EQ(
        run({"predict", "--surface-resistivity", "1e11", "--bench", bench_, "-o", folder_ / "x.svg"}).exit,
        2);
    EXPECT_EQ(run({"predict", "--surface-resistivity", "1e11", "--level", "95%", "--sweep", "gap=50:80",
                   "--bench", bench_, "-o", folder_ / "x.svg"})
                  .exit,
              2)
        << "every level is reached at once";
}

}  // namespace
