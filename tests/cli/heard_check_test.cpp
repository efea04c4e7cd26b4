// 'ebbtide check --listen': a bench check on a bench that keeps its own controls, as a person makes it; and
// what 'ebbtide listen' asks for before it hears an order.

#include <fmt/format.h>
#include <gtest/gtest.h>

#include <chrono>
#include <filesystem>
#include <thread>

#include "cli/at_a_terminal.hpp"
#include "support/program.hpp"
#include "transport/tcp.hpp"

namespace {

using namespace ebbtide;
using namespace ebbtide::testing_support;
using nlohmann::json;

const std::string example = EBBTIDE_SOURCE_DIR "/examples/awning-live";

/// The awning order, and what a logger wrote during all steps of a check, then during a run of A1.
class HeardCheckCommand : public ::testing::Test {
  protected:
    void SetUp() override {
        std::filesystem::copy(example, order(), std::filesystem::copy_options::recursive);
        std::string runs;
        for (const char* step :
             {R"({ specimen = "plate" })", R"({ specimen = "plate", voltage_V = -5000 })",
              R"({ specimen = "plate", voltage_V = 2500 })", R"({ specimen = "plate", voltage_V = -2500 })",
              "{}", "{ voltage_V = -5000 }", R"({ specimen = "standard" })",
              R"({ specimen = "standard", voltage_V = -5000 })", R"({ specimen = "blank" })",
              R"({ specimen = "blank", voltage_V = -5000 })"})
            runs += std::string(runs.empty() ? "" : ", ") + step;
        write_bytes(order() + "/heard.toml",
                    bytes_of(example + "/simulation.toml") +
                        fmt::format("\n[run]\ncharge_s = 5\ndecay_s = 3\nafter_s = 1\n"
                                    "[[recording]]\nfile = \"check.csv\"\nruns = [{}]\n"
                                    "[[recording]]\nfile = \"A1.csv\"\nruns = [{{ specimen = \"A1\" }}]\n",
                                    runs));
        const Ran simulated = run({"simulate", order() + "/heard.toml", "-o", beside_ / "heard"});
        ASSERT_EQ(simulated.exit, 0) << simulated.err;
    }
    [[nodiscard]] std::string order() const { return beside_ / "order"; }
    [[nodiscard]] std::string bench() const { return order() + "/bench.toml"; }
    [[nodiscard]] std::string logged(const std::string& name) const { return beside_ / ("heard/" + name); }
    Ran check(std::vector<std::string> more = {}) const {
        std::vector<std::string> words{"check", bench(), "--listen", logged("check.csv"), "--who", "TO"};
        words.insert(words.end(), more.begin(), more.end());
        return run(words);
    }
    Ran listen(std::vector<std::string> more = {}) const {
        std::vector<std::string> words{"listen", logged("A1.csv"), "--order", order(), "--conditions", "dry"};
        words.insert(words.end(), more.begin(), more.end());
        return run(words);
    }
    TemporaryFolder beside_;
};

TEST_F(HeardCheckCommand, IsMadeFromWhatALoggerWrote) {
    const Ran checked = check();
    EXPECT_EQ(checked.exit, 0) << checked.out << checked.err;
    for (const char* words : {"Opening check of bench-3: good", "holds until", "● span +", "run 10  blank -"})
        EXPECT_NE(checked.out.find(words), std::string::npos) << words << "\n" << checked.out;
    EXPECT_NE(checked.err.find("? Step 10 of 10. Charge to -5000 V"), std::string::npos) << checked.err;
    const json record = check({"--json", "--closing"}).json();
    EXPECT_EQ(record["outcome"], "good");
    EXPECT_EQ(record["kind"], "closing");
    EXPECT_EQ(record["source"], logged("check.csv"));
}

TEST_F(HeardCheckCommand, NeedsTheElectrodesVoltage) {
    // Of the logger's three columns the first and the last: time and the sensor.
    std::istringstream all(bytes_of(logged("check.csv")));
    std::string two;
    for (std::string line; std::getline(all, line);)
        two += (line.empty() ? line : line.substr(0, line.find(',')) + line.substr(line.rfind(','))) + "\n";
    write_bytes(logged("check.csv"), two);
    const Ran checked = check();
    EXPECT_EQ(checked.exit, 2);
    EXPECT_NE(checked.err.find("no channel is the voltage of the electrode"), std::string::npos)
        << checked.err;
}

TEST_F(HeardCheckCommand, KeepsItInALedger) {
    const std::string ledger = beside_ / "lab.ledger";
    ASSERT_EQ(run({"ledger", "init", "--ledger", ledger}).exit, 0);
    EXPECT_EQ(check({"--ledger", ledger}).exit, 0);
    const Ran found = run({"ledger", "find", "--ledger", ledger, "--checks", "--bench", "bench-3"});
    EXPECT_EQ(found.exit, 0) << found.err;
    EXPECT_NE(found.out.find("opening"), std::string::npos) << found.out;
}

TEST_F(HeardCheckCommand, IsAskedForBeforeAnOrderIsHeard) {
    const Ran refused = listen({"--set-up", "--who", "TO"});
    EXPECT_EQ(refused.exit, 2);
    EXPECT_NE(refused.err.find("no opening check of this bench is on record"), std::string::npos)
        << refused.err;
    EXPECT_FALSE(std::filesystem::exists(order() + "/checks"));
    const Ran nobody = listen({"--set-up"});
    EXPECT_EQ(nobody.exit, 2);
    EXPECT_NE(nobody.err.find("--who INITIALS"), std::string::npos) << nobody.err;
    ASSERT_EQ(check().exit, 0);
    const Ran unready = listen();
    EXPECT_EQ(unready.exit, 2);
    EXPECT_NE(unready.err.find("set-up list"), std::string::npos) << unready.err;
    EXPECT_EQ(listen({"--set-up", "--who", "TO"}).exit, 0);
    // Once a day is enough.
    EXPECT_EQ(listen().exit, 0);
}

TEST_F(HeardCheckCommand, IsAnsweredForByNameWhereItIsMissing) {
    const Ran heard = listen({"--set-up", "--who", "TO", "--override", "the plate is away for calibration"});
    EXPECT_EQ(heard.exit, 0) << heard.err;
    EXPECT_NE(heard.err.find("Work starts although no opening check"), std::string::npos) << heard.err;
    const std::string judged = run({"judge", order(), "--json"}).out;
    EXPECT_NE(judged.find("TO let work start: the plate is away for calibration"), std::string::npos)
        << judged;
}

TEST_F(HeardCheckCommand, ShowsAPersonEachStepAndGoesBackOne) {
    auto listener = transport::TcpListener::on_loopback(0);
    ASSERT_TRUE(listener);
    AtATerminal person(
        {"check", bench(), "--listen", fmt::format("tcp://127.0.0.1:{}", listener->port()), "--who", "TO"});
    auto logger = listener->accept(30);
    ASSERT_TRUE(logger) << logger.error().text();
    const std::string all = bytes_of(logged("check.csv"));
    ASSERT_TRUE((*logger)->write(all.substr(0, all.size() / 4), 30));
    ASSERT_TRUE(person.sees("Step 3 of 10."));
    person.press("b");
    // Half a second of the third run, bit by bit: the key is heeded at the next one.
    constexpr std::size_t bit = 500;
    for (std::size_t at = all.size() / 4; at < all.size() / 4 + 20 * bit; at += bit) {
        ASSERT_TRUE((*logger)->write(all.substr(at, bit), 30));
        std::this_thread::sleep_for(std::chrono::milliseconds(50));
    }
    ASSERT_TRUE(person.sees("Step 2 of 10."));
    person.press("q");
    EXPECT_EQ(person.wait(), 10);
    EXPECT_TRUE(person.sees("ended after 1 of 10 steps"));
}

TEST_F(HeardCheckCommand, RefusesToBeDrivenAndHeardAtOnce) {
    const Ran both = check({"--simulated", order() + "/simulation.toml"});
    EXPECT_EQ(both.exit, 2);
    EXPECT_NE(both.err.find("--listen"), std::string::npos) << both.err;
}

}  // namespace
