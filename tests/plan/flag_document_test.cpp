// docs/flags.md and the table of flags say the same.

#include <gtest/gtest.h>

#include <fstream>
#include <sstream>

#include "plan/flag.hpp"

namespace ebbtide::plan {
namespace {

TEST(FlagDocument, ExplainsEveryFlagWithItsUsualConsequence) {
    std::ifstream in(EBBTIDE_SOURCE_DIR "/docs/flags.md");
    std::ostringstream text;
    text << in.rdbuf();
    for (std::size_t i = 0; i < flag_count; ++i) {
        const FlagFacts& flag = facts(static_cast<FlagCode>(i));
        const std::string row =
            "| `" + std::string(flag.name) + "` | " + std::string(name_of(flag.usual)) + " |";
        EXPECT_NE(text.str().find(row), std::string::npos) << row;
    }
}

TEST(FlagDocument, NamesNoFlagThatIsNot) {
    std::ifstream in(EBBTIDE_SOURCE_DIR "/docs/flags.md");
    std::size_t rows = 0;
    for (std::string line; std::getline(in, line);)
        if (line.starts_with("| `")) {
            ++rows;
            EXPECT_TRUE(flag_named(line.substr(3, line.find('`', 3) - 3))) << line;
        }
    EXPECT_EQ(rows, flag_count);
}

}  // namespace
}  // namespace ebbtide::plan
