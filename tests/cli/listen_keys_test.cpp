// 'ebbtide listen' on a terminal: what a person sees, and what keys do.

#include <fmt/format.h>
#include <gtest/gtest.h>

#include "cli/at_a_terminal.hpp"
#include "transport/tcp.hpp"

namespace {

using namespace ebbtide;
using namespace ebbtide::testing_support;

const std::string example = EBBTIDE_SOURCE_DIR "/examples/halyard-cloth";

}  // namespace

TEST(ListenKeys, CorrectTheLastRunAndChooseTheNextPlace) {
    const TemporaryFolder beside;
    const std::string order = beside / "order";
    std::filesystem::create_directory(order);
    std::string text = bytes_of(example + "/order.toml");
    text.resize(text.find("# The runs of a recording"));
    text.insert(text.find("[laboratory]"), "live = \"live.toml\"\n\n");
    write_bytes(order + "/order.toml", text);
    std::filesystem::copy(example + "/bench.toml", order + "/bench.toml");

    auto listener = transport::TcpListener::on_loopback(0);
    ASSERT_TRUE(listener);
    AtATerminal person({"listen", fmt::format("tcp://127.0.0.1:{}", listener->port()), "--order", order,
                        "--conditions", "dry-1"});
    auto logger = listener->accept(30);
    ASSERT_TRUE(logger) << logger.error().text();
    ASSERT_TRUE(person.sees("next   W1 front dry-1 + 1"));
    const std::string recording = bytes_of(example + "/recordings/W1.csv");
    ASSERT_TRUE((*logger)->write(recording.substr(0, recording.size() * 3 / 4), 30));
    ASSERT_TRUE(person.sees("run 1  W1 front dry-1 + 1"));
    ASSERT_TRUE(person.sees("next   W1 back dry-1 + 1"));
    person.press("n");
    ASSERT_TRUE(person.sees("next   W2 front dry-1 + 1"));
    person.press("m");
    ASSERT_TRUE(person.sees("your initials"));
    person.press("TO\n");
    ASSERT_TRUE(person.sees("cause (move)"));
    person.press("another specimen hung there\n");
    ASSERT_TRUE(person.sees("run 1  W2 front dry-1 + 1"));
    person.press("xslipped\n");
    ASSERT_TRUE(person.sees("does not count"));
    // From the empty fixture on through all that can hang there, and back to the plan.
    for (const char* hangs : {"without specimen", "check standard", "insulating blank", "metal plate"}) {
        person.press("e");
        ASSERT_TRUE(person.sees(std::string("next   a reference run, ") + hangs));
    }
    person.press("e");
    ASSERT_TRUE(person.sees("next   W2 front dry-1 + 1"));
    person.press("e");
    ASSERT_TRUE(person.sees("next   a reference run, without specimen"));
    ASSERT_TRUE((*logger)->write(recording.substr(recording.size() * 3 / 4), 30));
    logger->reset();
    EXPECT_EQ(person.wait(), 0);
    const std::string live = bytes_of(order + "/live.toml");
    EXPECT_NE(live.find("set_aside = \"slipped\""), std::string::npos);
    EXPECT_NE(live.find("by = \"TO\"\nwhy = \"another specimen hung there\""), std::string::npos) << live;
    EXPECT_NE(live.find("[[correction]]"), std::string::npos);
    EXPECT_NE(live.find("reference = \"nothing\"\nconditions = \"dry-1\"\npolarity = \"+\""),
              std::string::npos)
        << live;
}
