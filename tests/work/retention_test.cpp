// Recordings that are too large to attach: their runs are, and every figure is worked out again from them.

#include "work/retention.hpp"

#include <gtest/gtest.h>

#include "basis/sha256.hpp"
#include "record/json.hpp"
#include "recording/container_reader.hpp"
#include "recording/container_writer.hpp"
#include "support/program.hpp"
#include "work/convert.hpp"
#include "work/judge_order.hpp"
#include "work/measure.hpp"
#include "work/verify.hpp"

namespace {

using namespace ebbtide;
using namespace ebbtide::testing_support;
using nlohmann::json;

const std::string example = EBBTIDE_SOURCE_DIR "/examples/halyard-cloth";
constexpr const char* w1 = "recordings/W1.csv";

/// The example's report when a recording of more than 100 kB counts as large: all of them do.
report::ReportInput report_of(const work::Retention& retention, const std::string& order = example) {
    const auto files = work::folder_files(order);
    auto judged = work::judge_order(*files, Instant{1}, {}, {}, retention);
    EXPECT_TRUE(judged.ok()) << (judged.ok() ? "" : judged.error().text());
    auto input = work::report_input(*files, std::move(judged).value());
    EXPECT_TRUE(input.ok()) << (input.ok() ? "" : input.error().text());
    return std::move(input).value();
}

const report::ReportInput& by_runs() {
    static const report::ReportInput input = report_of({100'000, 256u << 20});
    return input;
}

report::Attachment& attachment(report::ReportInput& input, const std::string& name) {
    const auto found = std::ranges::find(input.attachments, name, &report::Attachment::name);
    if (found == input.attachments.end()) throw std::out_of_range(name);
    return *found;
}

bool is_attached(const report::ReportInput& input, const std::string& name) {
    return std::ranges::find(input.attachments, name, &report::Attachment::name) != input.attachments.end();
}

work::Verification verified(const report::ReportInput& input) {
    auto result = work::verify(report::to_pdf(input).value());
    EXPECT_TRUE(result.ok()) << (result.ok() ? "" : result.error().text());
    return result.ok() ? *result : work::Verification{};
}

bool mentions(const std::vector<std::string>& lines, const std::string& part) {
    return std::ranges::any_of(lines,
                               [&](const std::string& line) { return line.find(part) != std::string::npos; });
}

TEST(KeptRuns, TakeThePlaceOfALargeRecordingInTheReport) {
    const report::ReportInput& input = by_runs();
    EXPECT_FALSE(is_attached(input, w1));
    EXPECT_TRUE(is_attached(input, work::kept_runs_name(w1)));
    EXPECT_TRUE(is_attached(input, "bench.toml"));
    for (const record::RecordingRecord& recording : input.record.recordings) {
        EXPECT_TRUE(recording.kept_by_runs);
        EXPECT_EQ(recording.sha256, sha256_hex(bytes_of(example + "/" + recording.file)))
            << "of the whole file";
        EXPECT_EQ(recording.format, "delimited text");
    }
    const std::string html = report::to_html(input).value();
    EXPECT_NE(html.find("Too large to keep whole"), std::string::npos) << "and the report says so";
    EXPECT_NE(html.find("Not kept are"), std::string::npos);
}

TEST(KeptRuns, GiveTheFiguresOfTheWholeRecording) {
    const report::ReportInput whole = report_of({});
    EXPECT_EQ(json(record::json_of(by_runs().record))["judgement"],
              json(record::json_of(whole.record))["judgement"]);
    const work::Verification result = verified(by_runs());
    EXPECT_TRUE(result.differences.empty()) << result.differences.front();
    EXPECT_TRUE(result.not_attached.empty());
    EXPECT_EQ(result.kept_by_runs.size(), by_runs().record.recordings.size())
        << "it says which ones' runs it took as they were cut";
    EXPECT_GT(result.figures_compared, 1000u);
    EXPECT_TRUE(verified(whole).kept_by_runs.empty());
}

TEST(KeptRuns, AreExactlyTheSamplesThatTheirRunIdIsMadeOf) {
    report::ReportInput input = by_runs();
    auto source =
        recording::open_bytes(attachment(input, work::kept_runs_name(w1)).bytes, "W1.runs.ebbrec", {})
            .value();
    const auto file = work::measure(*source, {work::usual_rules(), {}}).value();
    const auto original =
        work::measure(*recording::open(example + "/" + w1, {}).value(), {work::usual_rules(), {}}).value();
    EXPECT_EQ(file.recording.runs, original.recording.runs) << "ids reproduce without the bench file too";
    ASSERT_TRUE(file.kept_runs.has_value());
    EXPECT_EQ(file.kept_runs->bytes, bytes_of(example + "/" + w1).size());
    // Without the bench, levels are in the recorder's volts: the cut is carried over to them.
    for (std::size_t i = 0; i < file.runs.size(); ++i) {
        ASSERT_TRUE(file.runs[i].figures.levels[0].decay_s.has_value());
        EXPECT_NEAR(*file.runs[i].figures.levels[0].decay_s, *original.runs[i].figures.levels[0].decay_s,
                    1e-12);
        EXPECT_NEAR(*file.runs[i].figures.initial_voltage_V, *original.runs[i].figures.initial_voltage_V,
                    1e-9);
    }
}

TEST(KeptRuns, WithOneChangedBitAreFoundOut) {
    const std::string name = work::kept_runs_name(w1);
    const std::string& bytes = attachment(const_cast<report::ReportInput&>(by_runs()), name).bytes;
    for (const std::size_t at : {bytes.size() / 7, bytes.size() / 2, bytes.size() - 200}) {
        report::ReportInput input = by_runs();
        char& byte = attachment(input, name).bytes[at];
        byte = static_cast<char>(byte ^ 1);
        const work::Verification result = verified(input);
        EXPECT_TRUE(mentions(result.differences, name + ": its SHA-256")) << at;
        EXPECT_TRUE(mentions(result.differences, "/recordings/0/notices"))
            << "and the damage is named: " << at;
    }
}

/// The container with one sample changed and every checksum made good again.
std::string forged(const std::string& bytes) {
    auto reader = recording::ContainerReader::open(recording::Bytes::of(bytes, "x", false), {}).value();
    std::string out;
    recording::ContainerWriter writer(std::make_unique<recording::MemorySink>(out), true);
    EXPECT_TRUE(writer.describe(reader->contents().about).ok());
    recording::Block block;
    for (bool first = true; reader->next(block).value();) {
        if (first && !block.channels[0].value.empty()) {
            double& value = block.channels[0].value[block.channels[0].value.size() / 2];
            value = std::nextafter(value, 1e9);
            first = false;
        }
        EXPECT_TRUE(writer.block(block).ok());
    }
    const recording::KeptRuns kept = reader->kept_runs().value();
    EXPECT_TRUE(writer.finish({kept.sha256, kept.bytes, {}, kept.notices}).ok());
    return out;
}

TEST(KeptRuns, WithOneChangedBitAndForgedChecksumsAreFoundOutByTheRunId) {
    report::ReportInput input = by_runs();
    const std::string name = work::kept_runs_name(w1);
    std::string& bytes = attachment(input, name).bytes;
    bytes = forged(bytes);
    report::Attachment& record = attachment(input, "record.json");
    json document = json::parse(record.bytes);
    for (json& entry : document["inputs"])
        if (entry["name"] == name) {
            entry["sha256"] = sha256_hex(bytes);
            entry["bytes"] = bytes.size();
        }
    record.bytes = record::canonical_text(document);
    const work::Verification result = verified(input);
    EXPECT_FALSE(mentions(result.differences, "SHA-256"));
    EXPECT_TRUE(mentions(result.differences, "/recordings/0/runs/0"));
    EXPECT_FALSE(mentions(result.differences, "/recordings/0/runs/1")) << "the other run is what it was";
}

TEST(KeptRuns, ThatAreTooMuchTogetherAreOnlyNamed) {
    const report::ReportInput input = report_of({100'000, 500'000});
    std::size_t kept = 0;
    std::uint64_t kept_bytes = 0;
    for (const record::RecordingRecord& recording : input.record.recordings) {
        kept += recording.kept_by_runs ? 1 : 0;
        EXPECT_EQ(is_attached(input, work::kept_runs_name(recording.file)), recording.kept_by_runs);
        EXPECT_FALSE(is_attached(input, recording.file));
    }
    for (const report::Attachment& one : input.attachments)
        if (one.name.ends_with(".ebbrec")) kept_bytes += one.bytes.size();
    EXPECT_GE(kept, 1u);
    EXPECT_LT(kept, input.record.recordings.size());
    EXPECT_LE(kept_bytes, 500'000u);
    EXPECT_NE(report::to_html(input).value().find("Only named"), std::string::npos);
    const work::Verification result = verified(input);
    EXPECT_EQ(result.not_attached.size(), input.record.recordings.size() - kept);
}

TEST(KeptRuns, OfASmallRecordingAreNotNeeded) {
    const report::ReportInput input = report_of({});
    for (const record::RecordingRecord& recording : input.record.recordings)
        EXPECT_FALSE(recording.kept_by_runs);
    for (const report::Attachment& one : input.attachments) EXPECT_FALSE(one.name.ends_with(".ebbrec"));
    EXPECT_EQ(report::to_html(input).value().find("Too large to keep whole"), std::string::npos);
}

TEST(KeptRuns, OfConvertedRecordingsAreKeptAlike) {
    const TemporaryFolder folder;
    std::filesystem::copy(example, folder / "order", std::filesystem::copy_options::recursive);
    auto source = recording::open(example + "/" + w1, {}).value();
    ASSERT_TRUE(work::convert_to_file(*source, folder / "order/recordings/W1.ebbrec").ok());
    std::string order = bytes_of(folder / "order/order.toml");
    for (std::size_t at = 0; (at = order.find("recordings/W1.csv", at)) != std::string::npos;)
        order.replace(at, 17, "recordings/W1.ebbrec");
    write_bytes(folder / "order/order.toml", order);
    for (const std::uint64_t limit : {std::uint64_t{100'000}, std::uint64_t{64} << 20}) {
        const report::ReportInput input = report_of({limit, 256u << 20}, folder / "order");
        EXPECT_EQ(input.record.judgement.statement, by_runs().record.judgement.statement);
        const work::Verification result = verified(input);
        EXPECT_TRUE(result.differences.empty()) << result.differences.front();
        EXPECT_TRUE(result.not_attached.empty());
    }
}

}  // namespace
