// The example orders: complete, consistent, and each file that they name is there.

#include <gtest/gtest.h>

#include <filesystem>
#include <fstream>
#include <sstream>

#include "paperwork/paperwork.hpp"

namespace ebbtide::paperwork {
namespace {

const std::filesystem::path examples = std::filesystem::path(EBBTIDE_SOURCE_DIR) / "examples";

std::string bytes_of(const std::filesystem::path& path) {
    std::ifstream in(path, std::ios::binary);
    std::ostringstream out;
    out << in.rdbuf();
    return out.str();
}

class ExampleOrders : public ::testing::TestWithParam<const char*> {};

TEST_P(ExampleOrders, AreReadAndNameOnlyWhatIsThere) {
    const auto folder = examples / GetParam();
    const auto order = parse_order(bytes_of(folder / "order.toml"), "order.toml");
    ASSERT_TRUE(order.ok()) << order.error().text();
    const auto bench = parse_bench(bytes_of(folder / order->bench_file), "bench.toml");
    ASSERT_TRUE(bench.ok()) << bench.error().text();
    EXPECT_TRUE(bench->lead_in_is_zero_state);
    for (const plan::PlannedRecording& recording : order->recordings)
        EXPECT_TRUE(std::filesystem::is_regular_file(folder / recording.file)) << recording.file;
    const auto shipped_with = [](const plan::Citation& citation) {
        for (const Shipped& file : shipped())
            if (file.id == citation.file)
                return file.toml.find('"' + citation.edition + '"') != std::string::npos;
        return false;
    };
    EXPECT_TRUE(shipped_with(order->method));
    EXPECT_TRUE(shipped_with(order->specification));
}

TEST_P(ExampleOrders, PlanTheRunsThatTheRecordingsWereMadeWith) {
    const auto folder = examples / GetParam();
    const auto order = parse_order(bytes_of(folder / "order.toml"), "order.toml");
    ASSERT_TRUE(order.ok()) << order.error().text();
    // One line a run in truth.json, in the order of the recordings.
    std::istringstream truth(bytes_of(folder / "truth.json"));
    std::string line;
    ASSERT_TRUE(std::getline(truth, line));
    for (const plan::PlannedRecording& recording : order->recordings) {
        for (const plan::PlannedRun& run : recording.runs) {
            ASSERT_TRUE(std::getline(truth, line));
            EXPECT_NE(line.find("\"file\": \"" + recording.file + "\""), std::string::npos) << line;
            EXPECT_NE(line.find("\"specimen\": \"" + run.key.specimen + "\""), std::string::npos) << line;
            EXPECT_NE(line.find("\"face\": \"" + run.key.face + "\""), std::string::npos) << line;
            EXPECT_NE(line.find("\"polarity\": \"" + std::string(sign_of(run.key.polarity)) + "\""),
                      std::string::npos)
                << line;
        }
    }
    ASSERT_TRUE(std::getline(truth, line));
    EXPECT_EQ(line, "]");
}

INSTANTIATE_TEST_SUITE_P(All, ExampleOrders, ::testing::Values("halyard-cloth", "film-insulator"),
                         [](const auto& row) { return std::string(row.param).substr(0, 4); });

}  // namespace
}  // namespace ebbtide::paperwork
