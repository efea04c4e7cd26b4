// The report on paper: pages, words that can be searched, and the files that it carries.

#include <gtest/gtest.h>
#include <unistd.h>

#include <array>
#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <fstream>

#include "report/invented_order.hpp"
#include "report/report_page.hpp"

namespace {

using namespace ebbtide;
using report::Paper;
using testing_support::holds;
using testing_support::invented_report;

std::string pdf_of(const report::ReportInput& input, Paper paper = Paper::a4) {
    const auto pdf = report::to_pdf(input, paper);
    EXPECT_TRUE(pdf.ok()) << (pdf.ok() ? "" : pdf.error().text());
    return pdf.ok() ? *pdf : std::string();
}

/// A file in the folder of temporary files, gone at the end.
class TemporaryFile {
  public:
    TemporaryFile(const std::string& name, const std::string& bytes)
        : path_(std::filesystem::temp_directory_path() / (std::to_string(::getpid()) + name)) {
        std::ofstream(path_, std::ios::binary) << bytes;
    }
    ~TemporaryFile() { std::filesystem::remove(path_); }
    TemporaryFile(const TemporaryFile&) = delete;
    TemporaryFile& operator=(const TemporaryFile&) = delete;
    [[nodiscard]] std::string path() const { return path_.string(); }

  private:
    std::filesystem::path path_;
};

struct Ran {
    int status = -1;
    std::string output;
};

Ran run(const std::string& command) {
    Ran ran;
    FILE* pipe = ::popen((command + " 2>&1").c_str(), "r");
    std::array<char, 4096> buffer{};
    while (const std::size_t n = std::fread(buffer.data(), 1, buffer.size(), pipe))
        ran.output.append(buffer.data(), n);
    ran.status = ::pclose(pipe);
    return ran;
}

bool have(const std::string& program) {
    return run("command -v " + program).status == 0;
}

/// Texts of the pages, by pdftotext; every page ends in a form feed.
std::vector<std::string> pages_of(const std::string& pdf) {
    const TemporaryFile file("report.pdf", pdf);
    const Ran ran = run("pdftotext -layout " + file.path() + " -");
    EXPECT_EQ(ran.status, 0) << ran.output;
    std::vector<std::string> pages;
    std::size_t from = 0;
    for (auto at = ran.output.find('\f'); at != std::string::npos; at = ran.output.find('\f', from)) {
        pages.push_back(ran.output.substr(from, at - from));
        from = at + 1;
    }
    return pages;
}

#define SKIP_WITHOUT(program) \
    if (!have(program)) GTEST_SKIP() << "2026-11-24: " program " is not installed"

TEST(ReportOnPaper, CarriesItsFilesBitForBit) {
    const report::ReportInput input = invented_report();
    const auto files = report::attachments_of_pdf(pdf_of(input)).value();
    ASSERT_EQ(files.size(), input.attachments.size());
    for (std::size_t i = 0; i < files.size(); ++i) {
        EXPECT_EQ(files[i].name, input.attachments[i].name);
        EXPECT_EQ(files[i].media_type, input.attachments[i].media_type);
        EXPECT_EQ(files[i].description, input.attachments[i].description);
        EXPECT_EQ(files[i].bytes, input.attachments[i].bytes);
    }
}

TEST(ReportOnPaper, CarriesEmptyAndLargeFilesAndNamesInAnyScript) {
    report::ReportInput input = invented_report();
    std::string large(3'000'000, '\0');
    testing_support::Noise noise(7);
    for (char& c : large) c = static_cast<char>(static_cast<unsigned char>(noise.uniform() * 256));
    input.attachments = {{"empty.csv", "text/csv", "", ""},
                         {"Prüfling (1) π/été.bin", "application/octet-stream", "ß, ü and π", large}};
    const auto files = report::attachments_of_pdf(pdf_of(input)).value();
    ASSERT_EQ(files.size(), 2U);
    EXPECT_EQ(files[0].bytes, "");
    EXPECT_EQ(files[1].name, "Prüfling (1) π/été.bin");
    EXPECT_EQ(files[1].description, "ß, ü and π");
    EXPECT_TRUE(files[1].bytes == large);
}

TEST(ReportOnPaper, RefusesTwoFilesOfOneName) {
    report::ReportInput input = invented_report();
    input.attachments.push_back(input.attachments.front());
    const auto pdf = report::to_pdf(input);
    ASSERT_FALSE(pdf.ok());
    EXPECT_EQ(pdf.error().code, Fault::bad_input);
    EXPECT_EQ(pdf.error().where, "record.json");
}

TEST(ReportOnPaper, AnythingElseIsRefusedWithARemedy) {
    const std::string whole = pdf_of(invented_report());
    for (const std::string& bytes : {std::string(), std::string("%PDF-1.7\n"), std::string("time,V\n0,1\n"),
                                     std::string(1000, '\0'), whole.substr(0, whole.size() / 2)}) {
        const auto files = report::attachments_of_pdf(bytes);
        ASSERT_FALSE(files.ok());
        EXPECT_EQ(files.error().code, Fault::bad_input);
        EXPECT_FALSE(files.error().remedy.empty());
    }
    report::ReportInput bare = invented_report();
    bare.attachments.clear();
    EXPECT_FALSE(report::attachments_of_pdf(pdf_of(bare)).ok());
}

TEST(ReportOnPaper, ComesOutTheSameEveryTime) {
    EXPECT_TRUE(pdf_of(invented_report()) == pdf_of(invented_report()));
    EXPECT_TRUE(pdf_of(invented_report()) != pdf_of(invented_report(), Paper::letter));
}

TEST(ReportOnPaper, SaysItsIdAndItsPageOnEveryPage) {
    SKIP_WITHOUT("pdftotext");
    for (const Paper paper : {Paper::a4, Paper::letter}) {
        const auto pages = pages_of(pdf_of(invented_report(), paper));
        ASSERT_GE(pages.size(), 4U);
        ASSERT_LE(pages.size(), 12U);
        for (std::size_t i = 0; i < pages.size(); ++i) {
            EXPECT_TRUE(holds(pages[i], "Report TP-2026-0412, revision 1")) << i;
            const std::string number =
                "page " + std::to_string(i + 1) + " of " + std::to_string(pages.size());
            EXPECT_TRUE(holds(pages[i], number)) << pages[i];
            EXPECT_TRUE(holds(pages[i], "Not to be reproduced except in full"));
            EXPECT_EQ(holds(pages[i], "End of report"), i + 1 == pages.size());
        }
        // The first page answers what, how, whether and how sure.
        for (const char* words :
             {"fail", "do not meet tp-cloth-limits, edition 2", "tp-house-decay, edition 2026-02", "U at 95",
              "C-7", "Saltmarsh Weavers", "R. Hale"})
            EXPECT_TRUE(holds(pages[0], words)) << words;
    }
}

TEST(ReportOnPaper, IsSoundToAChecker) {
    SKIP_WITHOUT("qpdf");
    const TemporaryFile file("report.pdf", pdf_of(invented_report()));
    const Ran ran = run("qpdf --check " + file.path());
    EXPECT_EQ(ran.status, 0) << ran.output;
    EXPECT_TRUE(holds(ran.output, "No syntax or stream encoding errors found")) << ran.output;
    const Ran json = run("qpdf --json " + file.path());
    for (const char* key : {"\"/AFRelationship\": \"/Data\"", "\"/AFRelationship\": \"/Source\"",
                            "\"/AF\":", "\"/Lang\": \"u:en\"", "D:20261019092653Z"})
        EXPECT_TRUE(holds(json.output, key)) << key;
}

TEST(ReportOnPaper, UsesItsOwnFontAndNoOther) {
    SKIP_WITHOUT("pdffonts");
    const TemporaryFile file("report.pdf", pdf_of(invented_report()));
    const Ran ran = run("pdffonts " + file.path());
    ASSERT_EQ(ran.status, 0);
    int fonts = 0;
    std::size_t line = 0;
    for (auto at = ran.output.find('\n'); at != std::string::npos;
         at = ran.output.find('\n', at + 1), ++line) {
        if (line < 1 || at + 1 >= ran.output.size()) continue;
        const std::string text = ran.output.substr(at + 1, ran.output.find('\n', at + 1) - at - 1);
        EXPECT_TRUE(holds(text, "Inter")) << text;
        EXPECT_TRUE(holds(text, "yes yes yes")) << "embedded, subset, searchable: " << text;
        ++fonts;
    }
    EXPECT_GE(fonts, 1);
}

/// Every stroke of text lies within the page: words by pdftotext with their boxes.
void expect_words_inside(const std::string& pdf) {
    const TemporaryFile file("report.pdf", pdf);
    const Ran ran = run("pdftotext -bbox " + file.path() + " -");
    ASSERT_EQ(ran.status, 0);
    double width = 0, height = 0;
    int words = 0;
    const auto number = [](const std::string& line, const std::string& name) {
        const auto at = line.find(name + "=\"");
        return at == std::string::npos ? -1.0 : std::atof(line.c_str() + at + name.size() + 2);
    };
    for (std::size_t from = 0; from < ran.output.size();) {
        const auto end = ran.output.find('\n', from);
        const std::string line = ran.output.substr(from, end - from);
        from = end == std::string::npos ? ran.output.size() : end + 1;
        if (holds(line, "<page ")) {
            width = number(line, "width");
            height = number(line, "height");
        } else if (holds(line, "<word ")) {
            ++words;
            EXPECT_GE(number(line, "xMin"), 40) << line;
            EXPECT_LE(number(line, "xMax"), width - 40) << line;
            EXPECT_GE(number(line, "yMin"), 25) << line;
            EXPECT_LE(number(line, "yMax"), height - 20) << line;
        }
    }
    EXPECT_GT(words, 50);
}

TEST(ReportOnPaper, KeepsEverythingOnThePageHoweverLongTheOrder) {
    SKIP_WITHOUT("pdftotext");
    report::ReportInput input = invented_report();
    judge::Judgement& judgement = input.record.judgement;
    judgement.runs.clear();
    for (auto& outcome : judgement.requirements) outcome.findings.clear();
    for (int i = 0; i < 200; ++i) {
        testing_support::RunShape shape;
        shape.time_constant_s = 0.1 + 0.0005 * i;
        shape.record_s = 1;
        judge::JudgedRun run;
        run.key = {"specimen-" + std::to_string(i / 4), i % 4 < 2 ? "front" : "back", "dry",
                   i % 2 == 0 ? plan::Polarity::positive : plan::Polarity::negative, 1};
        run.run_id = "run-" + std::to_string(i);
        run.figures = testing_support::figures_of(shape, run.key.polarity);
        run.counts = i % 17 != 0;
        if (i % 3 == 0)
            run.flags.emplace_back(plan::FlagCode::hold_short, "held for " + std::to_string(i) + " ms");
        input.traces[run.run_id] = testing_support::curve_of(shape, static_cast<std::uint64_t>(i));
        judge::Finding finding;
        finding.group = run.key.label();
        finding.runs = {static_cast<std::size_t>(i)};
        finding.bound = judge::BoundKind::value;
        finding.value_s = run.figures->levels[2].decay_s;
        finding.outcome = plan::Conformity::pass;
        judgement.requirements[1].findings.push_back(finding);
        judgement.runs.push_back(std::move(run));
    }
    for (const Paper paper : {Paper::a4, Paper::letter}) {
        const std::string pdf = pdf_of(input, paper);
        expect_words_inside(pdf);
        const auto pages = pages_of(pdf);
        EXPECT_GE(pages.size(), 20U);
        EXPECT_LE(pages.size(), 80U);
        // The head of a table stands on every page that the table reaches.
        int heads = 0;
        for (const std::string& page : pages) heads += holds(page, "V0, V") && holds(page, "specimen-");
        EXPECT_GE(heads, 4);
    }
}

TEST(ReportOnPaper, KeepsLongNamesAndLongWordsOnThePage) {
    SKIP_WITHOUT("pdftotext");
    report::ReportInput input = invented_report();
    const std::string word(180, 'W');
    std::string sentence;
    for (int i = 0; i < 900; ++i) sentence += "a sentence that does not want to end ";
    plan::Order& order = input.record.order;
    order.id =
        "an order with an id that is much longer than anybody would expect of an id " + word.substr(0, 60);
    order.title = order.customer.name = order.laboratory.name = word + " " + word;
    order.customer.address = sentence.substr(0, 3000);
    order.items[0].description = sentence;
    order.items[1].id = word;
    order.deviations = {sentence, word};
    input.record.judgement.reasons = {sentence.substr(0, 2000), word};
    for (judge::JudgedRun& run : input.record.judgement.runs) {
        run.key.specimen += word;
        run.key.face = word;
    }
    input.record.judgement.requirements[0].findings[0].reason = sentence;
    input.record.judgement.requirements[0].findings[1].group = word;
    input.record.recordings[0].file = word;
    input.record.bench->sensor.name = word;
    expect_words_inside(pdf_of(input));
    expect_words_inside(pdf_of(input, Paper::letter));
}

TEST(ReportOnPaper, IsWrittenForAnOrderWithNothingInIt) {
    report::ReportInput empty;
    empty.record.order.id = "E-1";
    const std::string pdf = pdf_of(empty);
    EXPECT_TRUE(pdf.starts_with("%PDF-1."));
    EXPECT_TRUE(!have("pdftotext") || holds(pages_of(pdf).at(0), "void"));
}

TEST(ReportOnPaper, IsWrittenForRunsWithoutFiguresAndCurvesWithoutSamples) {
    report::ReportInput input = invented_report();
    input.record.judgement.statement = plan::Conformity::void_;
    for (judge::JudgedRun& run : input.record.judgement.runs) {
        run.figures.reset();
        run.counts = false;
        run.flags.emplace_back(plan::FlagCode::run_missing, "not recorded");
    }
    input.record.judgement.runs[3].run_id.clear();
    input.traces["run-1"] = {};
    input.traces["run-2"] = {{0.0}, {0.0}, {}};
    input.traces["run-3"] = {{-1, 0, 1}, {-5, -5, -5}, {}};
    input.traces["run-5"] = {{0, 0, 0}, {5, 4, 3}, {}};
    input.traces["run-6"] = {{0, 1, 2}, {HUGE_VAL, NAN, 3}, {NAN, HUGE_VAL, 1}};
    EXPECT_TRUE(pdf_of(input).starts_with("%PDF-1."));
    EXPECT_TRUE(holds(report::to_html(input).value(), "does not count"));
}

TEST(ReportOnPaper, WritesTextInScriptsThatTheFontLacksAndSaysSo) {
    SKIP_WITHOUT("pdftotext");
    report::ReportInput input = invented_report();
    input.record.order.customer.name = "\xE5\xAE\xA2\xE6\x88\xB7";
    const auto pages = pages_of(pdf_of(input));
    EXPECT_TRUE(holds(pages.back(), "not in its font"));
}

}  // namespace
