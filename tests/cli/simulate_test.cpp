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
    EXPECT_GE(keys.size(), 20u);
    for (const std::string& key : keys) EXPECT_NE(told.find("`" + key + "`"), std::string::npos) << key;
}

}  // namespace
