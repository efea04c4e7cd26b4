// A report is worked out again from what is attached to it: every change shows, and only changes do.

#include "work/verify.hpp"

#include <gtest/gtest.h>

#include <algorithm>
#include <functional>
#include <random>

#include "basis/sha256.hpp"
#include "record/json.hpp"
#include "support/program.hpp"
#include "work/judge_order.hpp"
#include "work/report_input.hpp"

namespace {

using namespace ebbtide;
using namespace ebbtide::testing_support;
using nlohmann::json;

/// The example's report, before it is written.
const report::ReportInput& example() {
    static const report::ReportInput input = [] {
        const auto files = work::folder_files(EBBTIDE_SOURCE_DIR "/examples/halyard-cloth");
        return work::report_input(*files, work::judge_order(*files, Instant{1}).value()).value();
    }();
    return input;
}

report::Attachment& attachment(report::ReportInput& input, const std::string& name) {
    const auto found = std::ranges::find(input.attachments, name, &report::Attachment::name);
    if (found == input.attachments.end()) throw std::out_of_range(name);
    return *found;
}

Result<work::Verification> verified(const report::ReportInput& input) {
    return work::verify(report::to_pdf(input).value());
}

bool mentions(const std::vector<std::string>& lines, const std::string& part) {
    return std::ranges::any_of(lines,
                               [&](const std::string& line) { return line.find(part) != std::string::npos; });
}

/// The report with its record changed and the old recordings.
Result<work::Verification> with_record(const std::function<void(json&)>& change) {
    report::ReportInput input = example();
    report::Attachment& record = attachment(input, "record.json");
    json document = json::parse(record.bytes);
    change(document);
    record.bytes = record::canonical_text(document);
    return verified(input);
}

TEST(Verify, AgreesWithAnUntouchedReport) {
    const auto result = verified(example());
    ASSERT_TRUE(result.ok()) << result.error().text();
    EXPECT_TRUE(result->differences.empty()) << result->differences.front();
    EXPECT_TRUE(result->not_attached.empty());
    EXPECT_EQ(result->order, "TP-2026-0914");
    EXPECT_EQ(result->revision, 1);
    EXPECT_GT(result->figures_compared, 1000u);
}

TEST(Verify, CatchesOneChangedDigitOfARecording) {
    report::ReportInput input = example();
    std::string& bytes = attachment(input, "recordings/W1.csv").bytes;
    const std::size_t at = bytes.find("\n21.100,");
    ASSERT_NE(at, std::string::npos);
    char& digit = bytes[bytes.find('\n', at + 1) - 1];
    digit = digit == '9' ? '8' : static_cast<char>(digit + 1);
    const auto result = verified(input);
    ASSERT_TRUE(result.ok()) << result.error().text();
    EXPECT_TRUE(mentions(result->differences, "recordings/W1.csv: its SHA-256"));
    EXPECT_TRUE(mentions(result->differences, "/judgement/runs/0/figures/"))
        << "the figures of its run are others now";
    EXPECT_FALSE(mentions(result->differences, "/judgement/runs/2/figures/"))
        << "those of other recordings are not";
}

TEST(Verify, CatchesAChangedDigitOfWhichTheHashWasForgedToo) {
    report::ReportInput input = example();
    std::string& bytes = attachment(input, "recordings/W1.csv").bytes;
    char& digit = bytes[bytes.find('\n', bytes.find("\n21.100,") + 1) - 1];
    digit = digit == '9' ? '8' : static_cast<char>(digit + 1);
    report::Attachment& record = attachment(input, "record.json");
    json document = json::parse(record.bytes);
    for (const char* list : {"inputs", "recordings"})
        for (json& entry : document[list])
            if (entry.value("name", entry.value("file", "")) == "recordings/W1.csv")
                entry["sha256"] = sha256_hex(bytes);
    record.bytes = record::canonical_text(document);
    const auto result = verified(input);
    ASSERT_TRUE(result.ok()) << result.error().text();
    EXPECT_TRUE(mentions(result->differences, "/judgement/runs/0/"));
}

TEST(Verify, CatchesOneChangedFigureWordOrStatus) {
    const auto at = [](const char* pointer, const json& value) {
        return [=](json& document) {
            json& place = document[json::json_pointer(pointer)];
            ASSERT_NE(place, value);
            place = value;
        };
    };
    for (const auto& [pointer, value] : std::vector<std::pair<const char*, json>>{
             {"/judgement/runs/0/figures/levels/0/decay_s", 0.2},
             {"/judgement/runs/0/figures/levels/0/status", "not_reached"},
             {"/judgement/runs/3/figures/initial_voltage_V", nullptr},
             {"/judgement/runs/3/figures/release_source", "marker"},
             {"/judgement/runs/3/counts", false},
             {"/judgement/statement", "fail"},
             {"/judgement/requirements/0/findings/0/value_s", 0.1},
             {"/settings_hash", "0"},
             {"/order/customer/name", "Another mill"},
             {"/recordings/0/runs/0", "0"},
             {"/method/decay/levels/0/value", 0.5}}) {
        const auto result = with_record(at(pointer, value));
        ASSERT_TRUE(result.ok()) << result.error().text();
        EXPECT_EQ(result->differences.size(), 1u) << pointer;
        EXPECT_TRUE(mentions(result->differences, pointer)) << pointer;
    }
    // A part that was taken out or put in shows too.
    EXPECT_FALSE(with_record([](json& d) { d["judgement"]["runs"].erase(0); })->differences.empty());
    EXPECT_FALSE(
        with_record([](json& d) { d["judgement"]["cautions"] = json::array(); })->differences.empty());
    EXPECT_FALSE(with_record([](json& d) { d["extra"] = 1; })->differences.empty());
    EXPECT_FALSE(with_record([](json& d) { d.erase("bench"); })->differences.empty());
}

TEST(Verify, ComparesNumbersToABillionth) {
    std::size_t compared = 0;
    EXPECT_TRUE(work::differences_of({{"a", 1.0}}, {{"a", 1.0 + 5e-10}}, compared).empty());
    EXPECT_FALSE(work::differences_of({{"a", 1.0}}, {{"a", 1.0 + 2e-9}}, compared).empty());
    EXPECT_FALSE(work::differences_of({{"a", 0.0}}, {{"a", 1e-300}}, compared).empty());
    EXPECT_FALSE(work::differences_of({{"a", 1}}, {{"a", nullptr}}, compared).empty());
    EXPECT_FALSE(work::differences_of({{"a", 1}}, {{"a", "1"}}, compared).empty());
    EXPECT_FALSE(work::differences_of(json::array({1}), json::array({1, 2}), compared).empty());
}

TEST(Verify, NamesWhatIsNotAttached) {
    for (const char* name :
         {"recordings/W1.csv", "order.toml", "bench.toml", "methods/mil-dtl-44031e-method.toml"}) {
        report::ReportInput input = example();
        std::erase_if(input.attachments, [&](const report::Attachment& a) { return a.name == name; });
        const auto result = verified(input);
        ASSERT_TRUE(result.ok()) << result.error().text();
        EXPECT_EQ(result->not_attached, std::vector<std::string>{name});
    }
    report::ReportInput input = example();
    std::erase_if(input.attachments, [](const report::Attachment& a) { return a.name == "record.json"; });
    EXPECT_FALSE(verified(input).ok());
}

TEST(Verify, RefusesWhatIsNoReport) {
    std::mt19937 random(5);
    std::string noise(5000, ' ');
    for (char& c : noise) c = static_cast<char>(random());
    report::ReportInput bare = example();
    bare.attachments.clear();
    const std::string whole = report::to_pdf(example()).value();
    for (const std::string& bytes :
         {std::string(), std::string("not a PDF"), std::string("%PDF-1.7\n"), "%PDF-1.7\n" + noise, noise,
          std::string("%PDF-1.4\n1 0 obj<</Type/Catalog/Pages 2 0 R>>endobj 2 0 "
                      "obj<</Type/Pages/Kids[]/Count 0>>endobj\n"
                      "trailer<</Root 1 0 R>>\n%%EOF\n"),
          report::to_pdf(bare).value(), whole.substr(0, whole.size() / 2)}) {
        const auto result = work::verify(bytes);
        if (result.ok()) {
            // Half a report may still give up some attachments: then others are missing or differ.
            EXPECT_FALSE(result->differences.empty() && result->not_attached.empty());
            continue;
        }
        EXPECT_EQ(result.error().code, Fault::bad_input) << result.error().text();
        EXPECT_FALSE(result.error().remedy.empty()) << result.error().text();
    }
}

TEST(Verify, RefusesRecordsOfAnotherShape) {
    const auto refused = [](const std::string& record) {
        report::ReportInput input = example();
        attachment(input, "record.json").bytes = record;
        const auto result = verified(input);
        EXPECT_FALSE(result.ok()) << record.substr(0, 100);
        if (!result) {
            EXPECT_EQ(result.error().code, Fault::bad_input) << result.error().text();
        }
    };
    for (const char* record :
         {"", "{", "[]", "null", "5", "{\"schema\": 5}", "{\"schema\": \"ebbtide.record/2\"}",
          "{\"schema\": \"ebbtide.record/1\"}", "{\"schema\": \"ebbtide.record/1\", \"x\": 1e999}"})
        refused(record);
    json document = json::parse(attachment(const_cast<report::ReportInput&>(example()), "record.json").bytes);
    for (const char* pointer : {"/schema", "/inputs", "/inputs/0", "/inputs/0/name"})
        for (const json& value : {json(5), json(nullptr), json::object()}) {
            json changed = document;
            changed[json::json_pointer(pointer)] = value;
            refused(changed.dump());
        }
    // Of another type where a person reads it: a difference, not a fault.
    for (const char* pointer : {"/order", "/order/id", "/order/revision", "/judgement"})
        for (const json& value : {json(5.5), json::array()}) {
            const auto result = with_record([&](json& d) { d[json::json_pointer(pointer)] = value; });
            ASSERT_TRUE(result.ok()) << pointer << result.error().text();
            EXPECT_FALSE(result->differences.empty()) << pointer << value;
        }
}

}  // namespace
