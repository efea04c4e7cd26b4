// validate as a person runs it: all agree here, a wrong figure ends with 20 and is named, reports repeat.

#include <gtest/gtest.h>

#include "basis/sha256.hpp"
#include "cli/commands.hpp"
#include "report/report.hpp"
#include "support/program.hpp"
#include "work/validate.hpp"

namespace {

using namespace ebbtide;
using namespace ebbtide::testing_support;
using nlohmann::json;

Ran run_at(std::vector<std::string> arguments) {
    Call call;
    call.arguments = std::move(arguments);
    call.more = {{"SOURCE_DATE_EPOCH", "1764115200"}};
    return run(call);
}

TEST(Validate, AgreesHereAndSaysWhatItRanOn) {
    const Ran ran = run_at({"validate", "--json"});
    ASSERT_EQ(ran.exit, 0) << ran.err;
    const json document = ran.json();
    EXPECT_TRUE(document["all_agree"]);
    EXPECT_EQ(document["made"], "2025-11-26T00:00:00Z");
    EXPECT_EQ(document["computer"]["program_sha256"], sha256_hex(bytes_of(EBBTIDE_PROGRAM)));
    for (const char* key : {"name", "program", "compiler", "processor", "vector_target", "operating_system"})
        EXPECT_FALSE(document["computer"][key].get<std::string>().empty()) << key;
    EXPECT_GT(document["checks"].size(), 130u);
    EXPECT_NE(run({"validate"}).out.find("checks agree"), std::string::npos);
}

TEST(Validate, WritesTheSameReportAgain) {
    const TemporaryFolder folder;
    for (const char* name : {"1.pdf", "2.pdf", "1.html", "2.html"})
        ASSERT_EQ(run_at({"validate", "-o", folder / name}).exit, 0);
    EXPECT_EQ(bytes_of(folder / "1.pdf"), bytes_of(folder / "2.pdf"));
    EXPECT_EQ(bytes_of(folder / "1.html"), bytes_of(folder / "2.html"));
    const std::string page = bytes_of(folder / "1.html");
    // JCGM 100:2008, H.2 prints 127.732 ohm.
    for (const char* said : {"all agree", "JCGM 100:2008, H.2", "127.732", "7.11.2", "from memory"})
        EXPECT_NE(page.find(said), std::string::npos) << said;
    const auto attached = report::attachments_of_pdf(bytes_of(folder / "1.pdf"));
    ASSERT_TRUE(attached.ok());
    ASSERT_EQ(attached->size(), 1u);
    EXPECT_EQ(attached->front().name, "validation.json");
    EXPECT_EQ(attached->front().bytes, run_at({"validate", "--json"}).out);
}

TEST(Validate, RefusesAReportOfNoKind) {
    const Ran ran = run({"validate", "-o", "validation.txt"});
    EXPECT_EQ(ran.exit, 2);
    EXPECT_NE(ran.err.find(".pdf"), std::string::npos) << ran.err;
}

class ValidateWithAWrongFigure : public ::testing::Test {
  protected:
    ValidateWithAWrongFigure() {
        auto checks = work::all_checks();
        // The time of an exponential to 10 % is 2.302585 T (ln 10, any table of logarithms).
        checks.push_back(
            {"Invented", "a wrong time", "an invented document", "2.303585", "s", [] { return 2.302585; }});
        checks.push_back({"Invented", "a check that fails", "an invented document", "1", "",
                          []() -> validation::Answer { throw std::runtime_error("no run was found"); }});
        validation_ = {Instant{}, {}, validation::run(checks)};
    }
    validation::Validation validation_;
    TemporaryFolder folder_;
};

TEST_F(ValidateWithAWrongFigure, EndsWith20AndNamesIt) {
    EXPECT_EQ(validation_.disagreeing(), 2u);
    ::testing::internal::CaptureStdout();
    cli::ValidateOptions options;
    options.output = folder_ / "v.html";
    const int code = cli::show(validation_, options);
    const std::string out = ::testing::internal::GetCapturedStdout();
    EXPECT_EQ(code, cli::differs);
    EXPECT_NE(out.find("a wrong time: 2.303585 printed, 2.30258500 here"), std::string::npos) << out;
    const std::string page = bytes_of(folder_ / "v.html");
    for (const char* said : {"differs", "a wrong time: 2.303585 printed, 2.30258500 here",
                             "a check that fails: no run was found"})
        EXPECT_NE(page.find(said), std::string::npos) << said;
    EXPECT_EQ(page.find("all agree"), std::string::npos);
    const json document = work::json_of(validation_);
    EXPECT_FALSE(document["all_agree"]);
    EXPECT_TRUE(document["checks"].back()["ours"].is_null());
}

TEST(Validate, WithoutAnyCheckShowsNothing) {
    ::testing::internal::CaptureStdout();
    EXPECT_EQ(cli::show({}, {}), cli::differs);
    EXPECT_EQ(::testing::internal::GetCapturedStdout().find("all 0"), std::string::npos);
}

}  // namespace
