// ebbtide drive and ebbtide check as a person runs them, on the simulated bench of the awning order.

#include <gtest/gtest.h>

#include <algorithm>
#include <chrono>
#include <iostream>
#include <set>

#include "support/program.hpp"

namespace {

using namespace ebbtide::testing_support;
using nlohmann::json;

class Driven : public ::testing::Test {
  protected:
    void SetUp() override {
        std::filesystem::copy(EBBTIDE_SOURCE_DIR "/examples/awning-live", order(),
                              std::filesystem::copy_options::recursive);
    }
    [[nodiscard]] std::string order() const { return beside_ / "order"; }
    [[nodiscard]] std::string in(const std::string& name) const { return order() + "/" + name; }
    [[nodiscard]] Ran check(bool closing = false) const {
        std::vector<std::string> words{"check", in("bench.toml"), "--who",
                                       "TO",    "--simulated",    in("simulation.toml")};
        if (closing) words.push_back("--closing");
        return run(words);
    }
    [[nodiscard]] Ran drive(std::vector<std::string> more = {},
                            const char* simulation = "simulation.toml") const {
        std::vector<std::string> words{"drive", order(), "--who", "TO", "--simulated", in(simulation)};
        words.insert(words.end(), more.begin(), more.end());
        return run(words);
    }
    TemporaryFolder beside_;
};

void expect_80_columns(const std::string& text) {
    std::istringstream lines(text);
    for (std::string line; std::getline(lines, line);) {
        const auto columns = std::ranges::count_if(line, [](char c) { return (c & 0xC0) != 0x80; });
        EXPECT_LE(columns, 80) << line;
    }
}

TEST_F(Driven, OrderGoesFromCheckToStatementFasterThanRealTime) {
    const auto began = std::chrono::steady_clock::now();
    const Ran opening = check();
    ASSERT_EQ(opening.exit, 0) << opening.out << opening.err;
    EXPECT_NE(opening.out.find("Opening check of bench-3: good"), std::string::npos) << opening.out;
    expect_80_columns(opening.out);
    const Ran driven = drive({"--sequence", "alternated"}, "simulation-faults.toml");
    ASSERT_EQ(driven.exit, 0) << driven.out << driven.err;
    expect_80_columns(driven.out);
    EXPECT_NE(driven.out.find("12 runs recorded"), std::string::npos) << driven.out;
    // The faults of the simulation, each in words.
    for (const char* words : {"interlock is open", "left the voltage", "no samples come"})
        EXPECT_NE(driven.out.find(words), std::string::npos) << words << "\n" << driven.out;
    const Ran closing = check(true);
    EXPECT_EQ(closing.exit, 0) << closing.out << closing.err;
    const Ran judged = run({"judge", order(), "--json"});
    EXPECT_EQ(judged.exit, 0) << judged.out << judged.err;
    const std::chrono::duration<double> took = std::chrono::steady_clock::now() - began;
    double bench_s = 0;
    std::istringstream log(bytes_of(in("drive.log.jsonl")));
    for (std::string line; std::getline(log, line);) bench_s = json::parse(line)["bench_s"];
    std::cout << "[ pace     ] " << bench_s << " s of the bench in " << took.count()
              << " s with both checks\n";
    EXPECT_LT(took.count(), bench_s);
}

TEST_F(Driven, OrderDoesNotStartWithoutACheckUnlessSomebodyAnswersForIt) {
    const Ran refused = drive();
    EXPECT_EQ(refused.exit, 2);
    EXPECT_NE(refused.err.find("no opening check"), std::string::npos) << refused.err;
    EXPECT_EQ(drive({"--override", "a demonstration"}).exit, 0);
    const json judged = run({"judge", order(), "--json"}).json();
    std::size_t stale = 0;
    for (const json& run : judged["runs"])
        for (const json& flag : run["flags"])
            stale += flag["code"] == "bench_check_stale" &&
                             flag["message"].get<std::string>().find("TO let work start: a demonstration") !=
                                 std::string::npos
                         ? 1
                         : 0;
    EXPECT_EQ(stale, 12u);
}

TEST_F(Driven, DryRunShowsEveryCommandAndWritesNothing) {
    const Ran dry = run({"drive", order(), "--dry-run"});
    EXPECT_EQ(dry.exit, 0) << dry.err;
    std::size_t on = 0;
    for (std::size_t at = dry.out.find("> output on"); at != std::string::npos;
         at = dry.out.find("> output on", at + 1))
        ++on;
    EXPECT_EQ(on, 12u);
    EXPECT_FALSE(std::filesystem::exists(in("live.toml")));
    EXPECT_FALSE(std::filesystem::exists(in("drive.log.jsonl")));
    expect_80_columns(dry.out);
}

TEST_F(Driven, RefusesToDriveNothing) {
    const Ran none = run({"drive", order(), "--who", "TO"});
    EXPECT_EQ(none.exit, 2);
    EXPECT_NE(none.err.find("--simulated"), std::string::npos) << none.err;
    EXPECT_EQ(drive({"--sequence", "backwards"}).exit, 2);
}

/// Words in backquotes in the first column of the tables of a page.
std::set<std::string> documented(const std::string& page) {
    std::istringstream lines(bytes_of(std::string(EBBTIDE_SOURCE_DIR "/docs/formats/") + page));
    std::set<std::string> keys;
    for (std::string line; std::getline(lines, line);) {
        if (!line.starts_with("| `")) continue;
        // The last cell of drive.md's table of kinds names keys too.
        for (std::size_t at = line.find('`'); at != std::string::npos;) {
            const std::size_t close = line.find('`', at + 1);
            keys.insert(line.substr(at + 1, close - at - 1));
            at = line.find('`', close + 1);
        }
    }
    return keys;
}

TEST_F(Driven, JsonHoldsOnlyDocumentedKeys) {
    const std::set<std::string> of_check = documented("bench-check.md"), of_drive = documented("drive.md");
    const Ran checked = run({"check", in("bench.toml"), "--simulated", in("simulation.toml"), "--json"});
    ASSERT_EQ(checked.exit, 0) << checked.err;
    const json record = checked.json();
    const auto expect_known = [](const json& object, const std::set<std::string>& known) {
        for (const auto& [key, value] : object.items()) EXPECT_TRUE(known.contains(key)) << key;
    };
    expect_known(record, of_check);
    for (const json& figure : record["figures"]) expect_known(figure, of_check);
    for (const json& step : record["steps"]) expect_known(step, of_check);
    const Ran driven = drive({"--json"});
    ASSERT_EQ(driven.exit, 0) << driven.err;
    std::istringstream lines(driven.out);
    std::size_t count = 0;
    for (std::string line; std::getline(lines, line); ++count) {
        const json parsed = json::parse(line, nullptr, false);
        ASSERT_FALSE(parsed.is_discarded()) << line;
        expect_known(parsed, of_drive);
        EXPECT_TRUE(of_drive.contains(parsed["kind"])) << parsed["kind"];
    }
    EXPECT_GT(count, 100u);
    EXPECT_EQ(driven.out, bytes_of(in("drive.log.jsonl")));
}

}  // namespace
