// [[folder]] in an order: what is read, and what is refused with its line.

#include <gtest/gtest.h>

#include "paperwork/documents.hpp"

namespace ebbtide::paperwork {
namespace {

using documents::changed;
using documents::refused;

/// The order with a folder instead of its recording.
std::string with_folder(const std::string& table) {
    const std::string order = documents::order;
    return order.substr(0, order.find("[[recording]]")) + "[[folder]]\n" + table;
}

const std::string good =
    "folder = \"recordings/\"\nnames = \"{specimen}-{polarity}-{replicate}.csv\"\nface = "
    "\"front\"\nconditions = \"dry\"\n";

}  // namespace

TEST(RecordingFolders, HandOnWhatTheySay) {
    const auto order = parse_order(
        with_folder(good + "sample_interval_s = 0.5\nchannels = { specimen = \"2\", electrode = \"3\" }\n"),
        "o.toml");
    ASSERT_TRUE(order.ok()) << order.error().text();
    EXPECT_TRUE(order->recordings.empty());
    ASSERT_EQ(order->folders.size(), 1u);
    const plan::RecordingFolder& folder = order->folders[0];
    EXPECT_EQ(folder.folder, "recordings");
    EXPECT_EQ(folder.names, "{specimen}-{polarity}-{replicate}.csv");
    EXPECT_EQ(folder.key.face, "front");
    EXPECT_EQ(folder.key.conditions, "dry");
    EXPECT_EQ(folder.channels.electrode, "3");
    EXPECT_EQ(folder.sample_interval_s, 0.5);
    EXPECT_GT(folder.line, 1);
}
TEST(RecordingFolders, MayStandBesideRecordings) {
    const auto order = parse_order(documents::order + "\n[[folder]]\n" + good, "o.toml");
    ASSERT_TRUE(order.ok()) << order.error().text();
    EXPECT_EQ(order->recordings.size(), 1u);
    EXPECT_EQ(order->folders.size(), 1u);
}
TEST(RecordingFolders, AreRefusedWithTheReason) {
    const auto expect = [](const std::string& table, const std::string& part) {
        EXPECT_TRUE(refused(parse_order(with_folder(table), "o.toml"), part));
    };
    expect(changed(good, "face = \"front\"\n", ""), "'face' is missing, and 'names' does not hold {face}");
    expect(good + "polarity = \"+\"\n", "'polarity' is given, and 'names' holds {polarity}");
    expect(changed(good, "\"dry\"", "\"dri\""), "no [[conditions]] has the id 'dri'");
    expect(changed(good, "{specimen}-", "{specimen}"), "nothing stands before '{polarity}");
    expect(changed(good, "{specimen}", "{sample}"), "'{sample' is no part of a name");
    expect(changed(good, "recordings/", "../elsewhere"), "folder");
    expect(changed(good, "recordings/", "."), "the order's own folder");
    expect(good + "\n[[folder]]\n" + good, "stands above already");
    expect(changed(good, "{specimen}-", "x-"), "'specimen' is missing");
    expect(changed(good, "{specimen}-", "x-") + "specimen = \"S9\"\n", "no [[specimen]] has the id 'S9'");
    const std::string neither = documents::order.substr(0, documents::order.find("[[recording]]"));
    EXPECT_TRUE(refused(parse_order(neither, "o.toml"), "recording"));
}

}  // namespace ebbtide::paperwork
