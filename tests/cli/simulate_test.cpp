// simulate as people call it: what it writes, in which kind of file, and what it refuses.

#include <gtest/gtest.h>

#include <set>

#include "support/program.hpp"

namespace {

using namespace ebbtide::testing_support;
using nlohmann::json;

const std::string cloth = EBBTIDE_SOURCE_DIR "/examples/halyard-cloth/simulation.toml";
const std::string bench = EBBTIDE_SOURCE_DIR "/examples/halyard-cloth/bench.toml";

json runs_of(const std::string& file) {
    return run({"measure", file, "--bench", bench, "--json"}).json()["files"][0]["runs"];
}

TEST(Simulate, WritesTheRecordingOfTheExampleAndItsTruth) {
    const TemporaryFolder folder;
    const Ran ran = run({"simulate", cloth, "--recording", "W1.csv", "-o", folder / "trace.csv"});
    EXPECT_EQ(ran.exit, 0) << ran.err;
    EXPECT_EQ(bytes_of(folder / "trace.csv"),
              bytes_of(EBBTIDE_SOURCE_DIR "/examples/halyard-cloth/recordings/W1.csv"));
    const json truth = json::parse(bytes_of(folder / "trace.truth.json"));
    EXPECT_EQ(truth["schema"], "ebbtide.truth/1");
    EXPECT_EQ(truth["seed"], 202609);
    const json& made = truth["recordings"][0]["runs"];
    const json found = runs_of(folder / "trace.csv");
    ASSERT_EQ(made.size(), 2u);
    ASSERT_EQ(found.size(), 2u);
    for (std::size_t i = 0; i < 2; ++i) {
        const auto is_right = [&](const char* key, double expected, double u) {
            EXPECT_NEAR(found[i][key].get<double>(), expected, 4 * u) << key;
        };
        is_right("release_s", made[i]["release_s"], found[i]["u_release_s"]);
        // The gain is known to 1 %, and right here; the noise of the mean is some 0.5 V.
        is_right("initial_voltage_V", made[i]["initial_voltage_V"], 1);
    }
}

TEST(Simulate, WritesEveryKindOfFileWithTheSameRuns) {
    const TemporaryFolder folder;
    for (const char* name : {"t.csv", "t.ebbrec", "t.h5"})
        ASSERT_EQ(run({"simulate", cloth, "--recording", "W2.csv", "-o", folder / name}).exit, 0) << name;
    EXPECT_EQ(runs_of(folder / "t.ebbrec"), runs_of(folder / "t.csv"));
    EXPECT_EQ(runs_of(folder / "t.h5"), runs_of(folder / "t.csv"));
}

TEST(Simulate, DrawsAnewByAnotherSeed) {
    const TemporaryFolder folder;
    ASSERT_EQ(run({"simulate", cloth, "--recording", "W1.csv", "-o", folder / "a.csv"}).exit, 0);
    ASSERT_EQ(run({"simulate", cloth, "--recording", "W1.csv", "--seed", "7", "-o", folder / "b.csv"}).exit,
              0);
    EXPECT_NE(bytes_of(folder / "a.csv"), bytes_of(folder / "b.csv"));
    EXPECT_EQ(json::parse(bytes_of(folder / "b.truth.json"))["seed"], 7);
}

TEST(Simulate, RefusesWithWhatToDo) {
    const TemporaryFolder folder;
    const auto refused = [&](std::vector<std::string> words, const std::string& part) {
        words.insert(words.begin(), "simulate");
        const Ran ran = run(words);
        EXPECT_EQ(ran.exit, 2) << part;
        EXPECT_NE(ran.err.find(part), std::string::npos) << ran.err;
    };
    refused({cloth, "-o", folder / "all.csv"}, "Name a folder for them, or one of them with --recording");
    refused({cloth, "--recording", "X9.csv", "-o", folder / "x.csv"}, "has no [[recording]] 'X9.csv'");
    refused({folder / "none.toml", "-o", folder / "x.csv"}, "none.toml");
    refused({cloth, "--recording", "W1.csv", "-o", folder / "no/such/x.csv"}, "no/such/x.csv");
    write_bytes(folder / "s.toml", "schema = \"ebbtide.simulation/1\"\nbench = \"bench.toml\"\nsed = 1\n");
    refused({folder / "s.toml", "-o", folder / "x.csv"}, "Did you mean 'seed'?");
    write_bytes(folder / "s.toml",
                "schema = \"ebbtide.simulation/1\"\nbench = \"bench.toml\"\nseed = 1\nrate_Hz = 100\n");
    refused({folder / "s.toml", "-o", folder / "x.csv"}, "bench.toml");
    EXPECT_FALSE(std::filesystem::exists(folder / "x.csv"));
}

/// A sheet with a patch on a backing, in the fixture of the example.
const std::string patched = R"(schema = "ebbtide.simulation/1"
bench = "bench.toml"
seed = 1
rate_Hz = 100
[backing]
capacitance_F_m2 = 1e-7
[[specimen]]
id = "patched"
[specimen.map]
width_mm = 40
cell_mm = 4
surface_resistivity_ohm_sq = 1e10
[[specimen.map.patch]]
along_from_mm = 0
along_to_mm = 40
across_from_mm = 0
across_to_mm = 20
surface_resistivity_ohm_sq = 1e8
[[recording]]
file = "patched.csv"
runs = [{ specimen = "patched", charge_s = 3, decay_s = 3 }]
)";

TEST(Simulate, SaysWhatASheetWithAMapIsMadeOf) {
    const TemporaryFolder folder;
    write_bytes(folder / "bench.toml", bytes_of(bench));
    write_bytes(folder / "patched.toml", patched);
    const Ran ran = run({"simulate", folder / "patched.toml", "-o", folder / "patched.csv"});
    ASSERT_EQ(ran.exit, 0) << ran.err;
    const json truth = json::parse(bytes_of(folder / "patched.truth.json"));
    ASSERT_EQ(truth["maps"].size(), 1u);
    const json& map = truth["maps"][0];
    EXPECT_EQ(map["specimen"], "patched");
    EXPECT_EQ(map["cells_along"], 19);  // 76 mm in cells of 4
    EXPECT_EQ(map["cells_across"], 10);
    EXPECT_EQ(map["lowest_ohm_sq"], 1e8);
    EXPECT_EQ(map["highest_ohm_sq"], 1e10);
    EXPECT_NEAR(map["parts_share"].get<double>(), 10.0 / 19 / 2, 1e-9);
    const json& made = truth["recordings"][0]["runs"][0];
    EXPECT_TRUE(made["slowest_s"].is_null()) << "no T1 by a formula";
    EXPECT_NEAR(runs_of(folder / "patched.csv")[0]["levels"][2]["decay_s"].get<double>(),
                made["decay_10_s"].get<double>(), 0.02);
    write_bytes(folder / "patched.toml",
                patched.substr(0, patched.find("[backing]")) + patched.substr(patched.find("[[specimen]]")));
    const Ran hanging = run({"simulate", folder / "patched.toml", "-o", folder / "hanging.csv"});
    EXPECT_EQ(hanging.exit, 2);
    EXPECT_NE(hanging.err.find("a sheet that hangs has no map"), std::string::npos) << hanging.err;
}

TEST(TruthDocument, ExplainsEveryKey) {
    const TemporaryFolder folder;
    ASSERT_EQ(run({"simulate", EBBTIDE_SOURCE_DIR "/examples/bench-faults/simulation.toml", "--recording",
                   "source-sags.csv", "-o", folder / "t.csv"})
                  .exit,
              0);
    const std::string page = bytes_of(EBBTIDE_SOURCE_DIR "/docs/formats/simulation.md");
    const std::string told = page.substr(page.find("## The truth"));
    std::set<std::string> keys;
    const auto gather = [&](const auto& self, const json& value) -> void {
        if (value.is_object())
            for (const auto& [key, inner] : value.items()) {
                keys.insert(key);
                self(self, inner);
            }
        if (value.is_array())
            for (const json& inner : value) self(self, inner);
    };
    gather(gather, json::parse(bytes_of(folder / "t.truth.json")));
    write_bytes(folder / "bench.toml", bytes_of(bench));
    write_bytes(folder / "patched.toml", patched);
    ASSERT_EQ(run({"simulate", folder / "patched.toml", "-o", folder / "p.csv"}).exit, 0);
    gather(gather, json::parse(bytes_of(folder / "p.truth.json")));
    EXPECT_GE(keys.size(), 20u);
    for (const std::string& key : keys) EXPECT_NE(told.find("`" + key + "`"), std::string::npos) << key;
}

}  // namespace
