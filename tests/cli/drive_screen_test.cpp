// 'ebbtide drive' on a terminal: the picture, the questions, the keys.

#include <gtest/gtest.h>

#include <filesystem>

#include "cli/at_a_terminal.hpp"

namespace {

using namespace ebbtide::testing_support;

class DriveScreen : public ::testing::Test {
  protected:
    void SetUp() override {
        std::filesystem::copy(EBBTIDE_SOURCE_DIR "/examples/awning-live", order(),
                              std::filesystem::copy_options::recursive);
    }
    [[nodiscard]] std::string order() const { return beside_ / "order"; }
    [[nodiscard]] std::vector<std::string> drive(std::vector<std::string> more) const {
        std::vector<std::string> words{"drive",      order(),          "--who",
                                       "TO",         "--simulated",    order() + "/simulation.toml",
                                       "--override", "a demonstration"};
        words.insert(words.end(), more.begin(), more.end());
        return words;
    }
    /// Confirms the laboratory's list.
    void confirm_setup(AtATerminal& person) const {
        const std::string bench = bytes_of(order() + "/bench.toml");
        for (std::size_t at = bench.find("[[setup]]"); at != std::string::npos;
             at = bench.find("[[setup]]", at + 1)) {
            ASSERT_TRUE(person.sees("[return] done"));
            person.press("\n");
        }
    }
    TemporaryFolder beside_;
};

TEST_F(DriveScreen, AsksShowsTheRunAndStopsInAnyPhase) {
    AtATerminal person(drive({"--ask", "--pace", "20"}));
    confirm_setup(person);
    ASSERT_TRUE(person.sees("?      Mount"));
    person.press("\n");
    // A busy machine paints some phases of a run and not others: what is seen is a run, a phase, and figures.
    for (const char* part : {"runs   ", "now    ", "t("}) ASSERT_TRUE(person.sees(part)) << part;
    person.press("\x03");
    ASSERT_TRUE(person.sees("Stopped by a person"));
    EXPECT_EQ(person.wait(), 3);
    EXPECT_NE(bytes_of(order() + "/live.toml").find("[[recording]]"), std::string::npos);
}

TEST_F(DriveScreen, PausesBeforeTheNextRunWhenThatIsAskedFor) {
    AtATerminal person(drive({"--pace", "20"}));
    ASSERT_TRUE(person.sees("runs   "));
    person.press("p");
    ASSERT_TRUE(person.sees("?      Paused"));
    person.press("q");
    EXPECT_EQ(person.wait(), 3);
}

TEST_F(DriveScreen, ThatIsNoTerminalIsPlainLines) {
    const Ran driven = run(drive({"--events"}));
    ASSERT_EQ(driven.exit, 0) << driven.err;
    EXPECT_EQ(driven.out.find('\x1b'), std::string::npos);
    EXPECT_TRUE(driven.out.starts_with("{")) << driven.out.substr(0, 80);
    EXPECT_NE(driven.out.find("\"event\":\"session_ended\""), std::string::npos);
    const Ran plain = run({"drive", order(), "--dry-run"});
    EXPECT_EQ(plain.out.find('\x1b'), std::string::npos);
}

}  // namespace
