// The example orders: complete, consistent, and each file that they name is there.

#include <gtest/gtest.h>

#include <filesystem>
#include <fstream>
#include <nlohmann/json.hpp>
#include <sstream>

#include "basis/sha256.hpp"
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
    const auto truth = nlohmann::json::parse(bytes_of(folder / "recordings.truth.json"));
    ASSERT_EQ(truth["recordings"].size(), order->recordings.size());
    for (std::size_t i = 0; i < order->recordings.size(); ++i) {
        const plan::PlannedRecording& recording = order->recordings[i];
        const auto& made = truth["recordings"][i];
        EXPECT_EQ("recordings/" + made["file"].get<std::string>(), recording.file);
        EXPECT_EQ(made["sha256"], sha256_hex(bytes_of(folder / recording.file)));
        ASSERT_EQ(made["runs"].size(), recording.runs.size()) << recording.file;
        for (std::size_t k = 0; k < recording.runs.size(); ++k) {
            const plan::RunKey& key = recording.runs[k].key;
            // "W1 back" is a face of the piece W1.
            EXPECT_TRUE(made["runs"][k]["specimen"].get<std::string>().starts_with(key.specimen));
            EXPECT_EQ(made["runs"][k]["face"], key.face);
            EXPECT_EQ(made["runs"][k]["polarity"], sign_of(key.polarity));
        }
    }
}

INSTANTIATE_TEST_SUITE_P(All, ExampleOrders, ::testing::Values("halyard-cloth", "film-insulator"),
                         [](const auto& row) { return std::string(row.param).substr(0, 4); });

}  // namespace
}  // namespace ebbtide::paperwork
