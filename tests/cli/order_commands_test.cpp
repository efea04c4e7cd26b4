// judge, report, verify, methods, demo and version as scripts call them, and every command that help and
// handbook show.

#include <fmt/format.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <iomanip>

#include "support/program.hpp"
#include "support/sheet_recording.hpp"

namespace {

using namespace ebbtide::testing_support;
using nlohmann::json;

const std::string example = EBBTIDE_SOURCE_DIR "/examples/halyard-cloth";

class Order : public ::testing::Test {
  protected:
    void SetUp() override {
        std::filesystem::copy(example, order(), std::filesystem::copy_options::recursive);
    }
    [[nodiscard]] std::string order() const { return folder_ / "order with a space"; }
    void change(const std::string& from, const std::string& to) const {
        std::string text = bytes_of(order() + "/order.toml");
        const std::size_t at = text.find(from);
        ASSERT_NE(at, std::string::npos) << from;
        write_bytes(order() + "/order.toml", text.replace(at, from.size(), to));
    }
    /// The order under a specification of its own: the shipped one with another limit.
    void limit(const std::string& limit_s) const {
        std::string text = bytes_of(EBBTIDE_SOURCE_DIR "/methods/mil-dtl-44031e-specification.toml");
        for (std::size_t at = 0; (at = text.find("limit_s = 0.5", at)) != std::string::npos; at += 10)
            text.replace(at, 13, "limit_s = " + limit_s);
        write_bytes(order() + "/own.toml", text);
        change("\"mil-dtl-44031e-specification\"", "\"own.toml\"");
    }
    TemporaryFolder folder_;
};

TEST_F(Order, JudgedEndsWithTheStatement) {
    Ran ran = run({"judge", order()});
    EXPECT_EQ(ran.exit, 0) << ran.err;
    EXPECT_NE(ran.out.find("statement of conformity: ● pass"), std::string::npos);
    limit("0.3");
    ran = run({"judge", order()});
    EXPECT_EQ(ran.exit, 10) << ran.err;
    EXPECT_NE(ran.out.find("statement of conformity: ■ fail"), std::string::npos);
    EXPECT_EQ(run({"judge", order(), "--json"}).json()["statement"], "fail");
}

TEST_F(Order, UnderAGuardedRuleIsConditionalNearItsLimit) {
    change("kind = \"simple\"", "kind = \"guarded\"\nguard_s = 0.06");
    change("[dates]",
           "[[decision_rule.history]]\nrequirement = \"3.10-average\"\nmean_s = 0.40\nstandard_deviation_s = "
           "0.05\nsource = \"rolls of 2025\"\n\n[dates]");
    const Ran ran = run({"judge", order()});
    EXPECT_EQ(ran.exit, 11) << ran.err;
    for (const char* said :
         {"decision rule  guarded acceptance, w = 0.06 s", "inside the guard band of 0.06 s",
          "statement of conformity: ◐ conditional pass", "risk of the rule before the test"})
        EXPECT_NE(ran.out.find(said), std::string::npos) << said;
    const json judged = run({"judge", order(), "--json"}).json();
    EXPECT_EQ(judged["statement"], "conditional pass");
    EXPECT_EQ(judged["requirements"][0]["findings"][3]["outcome"], "conditional pass");
    EXPECT_EQ(judged["requirements"][0]["findings"][3]["guard_s"], 0.06);
    const json risk = judged["requirements"][0]["prior_risk"];
    EXPECT_EQ(risk["source"], "rolls of 2025");
    EXPECT_GT(risk["producer"].get<double>(), risk["consumer"].get<double>());
    // The rule and its history come back out of the report.
    const std::string pdf = folder_ / "conditional.pdf";
    EXPECT_EQ(run({"report", order(), "-o", pdf}).exit, 0);
    EXPECT_EQ(run({"verify", pdf}).exit, 0);
}

TEST_F(Order, WithoutARunIsVoid) {
    const std::string file = order() + "/recordings/W1.csv", text = bytes_of(file);
    write_bytes(file, text.substr(0, text.find("\n40.000,") + 1));
    const Ran ran = run({"judge", order(), "--json"});
    EXPECT_EQ(ran.exit, 12) << ran.err;
    EXPECT_EQ(ran.json()["statement"], "void");
    // A report of it is written all the same: that is what it says.
    EXPECT_EQ(run({"report", order(), "-o", folder_ / "void.html"}).exit, 0);
    EXPECT_NE(bytes_of(folder_ / "void.html").find("void"), std::string::npos);
}

TEST_F(Order, ThatIsNoneIsRefused) {
    for (const std::string& folder :
         {std::string("no/such/order"), folder_.path(), example + "/order.toml", std::string()}) {
        const Ran ran = run({"judge", folder, "--json"});
        EXPECT_EQ(ran.exit, 2) << folder;
        EXPECT_EQ(ran.out, "");
        EXPECT_NE(ran.err, "");
    }
    change("revision = 1", "revision = one");
    EXPECT_EQ(run({"judge", order()}).exit, 2);
}

TEST_F(Order, JudgedAsJsonLeavesStandardOutputToTheDocument) {
    const Ran ran = run({"judge", order(), "--json"});
    EXPECT_EQ(ran.json()["schema"], "ebbtide.judge/1");
    EXPECT_NE(ran.err.find("reading recording 12 of 12"), std::string::npos)
        << "progress goes to standard error";
}

TEST_F(Order, IsReportedTwiceAlikeWhenItsTimeIsStated) {
    const auto report = [&](const std::string& name, const std::string& epoch) {
        Call call;
        call.arguments = {"report", order(), "-o", folder_ / name};
        call.more = {{"SOURCE_DATE_EPOCH", epoch}};
        EXPECT_EQ(run(call).exit, 0);
        return bytes_of(folder_ / name);
    };
    for (const std::string ending : {".pdf", ".html"}) {
        const std::string first = report("first" + ending, "1790000000");
        EXPECT_FALSE(first.empty());
        EXPECT_EQ(report("second" + ending, "1790000000"), first);
        EXPECT_NE(report("third" + ending, "1790086400"), first);
    }
}

TEST_F(Order, ReportIsVerifiedAndItsChangesShow) {
    const std::string pdf = folder_ / "with space\nand Größe.pdf";
    ASSERT_EQ(run({"report", order(), "-o", pdf}).exit, 0);
    const Ran agrees = run({"verify", pdf});
    EXPECT_EQ(agrees.exit, 0) << agrees.out;
    EXPECT_NE(agrees.out.find("all agree"), std::string::npos);
    for (const std::string& file :
         {std::string("no-such.pdf"), example, example + "/order.toml", std::string("/dev/null")})
        EXPECT_EQ(run({"verify", file}).exit, 2) << file;
    write_bytes(folder_ / "empty.pdf", "");
    const Ran empty = run({"verify", folder_ / "empty.pdf"});
    EXPECT_EQ(empty.exit, 2);
    EXPECT_NE(empty.err.find("empty.pdf"), std::string::npos) << empty.err;
}

TEST_F(Order, IsJudgedUnderOtherTermsWithTheNewStatementsExitCode) {
    const Ran agreed = run({"judge", order()});
    EXPECT_EQ(agreed.exit, 0);
    const Ran ran = run({"judge", order(), "--levels", "1%"});
    EXPECT_EQ(ran.exit, 10) << ran.err;
    EXPECT_NE(ran.out.find("as agreed"), std::string::npos);
    EXPECT_NE(ran.out.find("statement                              ● pass               ■ fail"),
              std::string::npos)
        << ran.out;
    EXPECT_NE(ran.out.find("statement under other terms than agreed: ■ fail"), std::string::npos);
    EXPECT_EQ(run({"judge", order(), "--specification", "sheet-goods-house-specification"}).exit, 0);
    for (const auto& [option, value] : {std::pair{"--levels", "0"}, std::pair{"--rule", "never"},
                                        std::pair{"--specification", "none.toml"}}) {
        const Ran refused = run({"judge", order(), option, value});
        EXPECT_EQ(refused.exit, 2) << option;
        EXPECT_NE(refused.err.find(option), std::string::npos) << refused.err;
        EXPECT_EQ(refused.out, "");
    }
}

TEST_F(Order, IsJudgedFromItsReportAlone) {
    const std::string pdf = folder_ / "archived.pdf", other = folder_ / "other.pdf";
    ASSERT_EQ(run({"report", order(), "-o", pdf}).exit, 0);
    const Ran from_folder = run({"judge", order(), "--json"});
    std::filesystem::remove_all(order());
    EXPECT_EQ(run({"judge", pdf, "--json"}).out, from_folder.out);
    // A specification from anywhere goes into the report, which is then checked under it.
    std::string text = bytes_of(EBBTIDE_SOURCE_DIR "/methods/mil-dtl-44031e-specification.toml");
    for (std::size_t at = 0; (at = text.find("limit_s = 0.5", at)) != std::string::npos; at += 10)
        text.replace(at, 13, "limit_s = 0.3");
    write_bytes(folder_ / "tighter.toml", text);
    const Ran reported = run({"report", pdf, "--specification", folder_ / "tighter.toml", "-o", other});
    EXPECT_EQ(reported.exit, 0) << reported.err;
    EXPECT_NE(reported.out.find("■ fail"), std::string::npos);
    EXPECT_EQ(run({"verify", other}).exit, 0);
    EXPECT_EQ(run({"judge", other}).exit, 0) << "the agreed terms are still in it";
    write_bytes(folder_ / "none.pdf", "%PDF-1.7 but no report");
    EXPECT_EQ(run({"judge", folder_ / "none.pdf"}).exit, 2);
}

TEST_F(Order, ThatIsAmendedSaysWhatItReplacesAndWhatDiffers) {
    ASSERT_EQ(run({"report", order(), "-o", order() + "/issued.pdf"}).exit, 0);
    change("revision = 1", "revision = 2");
    EXPECT_EQ(run({"judge", order()}).exit, 2) << "without an [amendment]";
    change("[[item]]",
           "[amendment]\nreplaces_revision = 1\nreplaces_issued = 2026-09-22\nreason = \"The mill moved\"\n"
           "changes = [\"Address of the customer\"]\nreplaced_report = \"issued.pdf\"\n\n[[item]]");
    change("11 Ropewalk", "12 Ropewalk");
    const Ran ran = run({"judge", order()});
    EXPECT_EQ(ran.exit, 0) << ran.err;
    for (const char* words :
         {"amends revision 1, issued 2026-09-22", "The mill moved", "found: customer, address:"})
        EXPECT_NE(ran.out.find(words), std::string::npos) << words << "\n" << ran.out;
    ASSERT_EQ(run({"report", order(), "-o", folder_ / "amended.pdf"}).exit, 0);
    EXPECT_EQ(run({"verify", folder_ / "amended.pdf"}).exit, 0);
}

TEST_F(Order, ReportInTheWayOfAnythingIsRefusedAndLeavesNothing) {
    for (const std::string& output :
         {folder_ / "report.txt", folder_ / "report", folder_ / "no/such/folder/report.pdf"}) {
        const Ran ran = run({"report", order(), "-o", output});
        EXPECT_EQ(ran.exit, 2) << output;
        EXPECT_NE(ran.err.find(output), std::string::npos) << ran.err;
        EXPECT_FALSE(std::filesystem::exists(output));
    }
    // A full disk: what is written beside the target lands in /dev/full. The old report stays.
    write_bytes(folder_ / "old.pdf", "the old report");
    std::filesystem::create_symlink("/dev/full", folder_ / "old.pdf.part");
    EXPECT_EQ(run({"report", order(), "-o", folder_ / "old.pdf"}).exit, 2);
    EXPECT_EQ(bytes_of(folder_ / "old.pdf"), "the old report");
    // A folder in the place of the report.
    std::filesystem::create_directory(folder_ / "taken.pdf");
    EXPECT_EQ(run({"report", order(), "-o", folder_ / "taken.pdf"}).exit, 2);
    EXPECT_FALSE(std::filesystem::exists(folder_ / "taken.pdf.part")) << "nothing half done is left";
}

TEST_F(Order, ReportNeverTakesThePlaceOfWhatItIsMadeOf) {
    const std::string pdf = folder_ / "report.pdf";
    ASSERT_EQ(run({"report", order(), "-o", pdf}).exit, 0);
    const std::string archived = bytes_of(pdf);
    EXPECT_EQ(run({"report", pdf, "--rule", "guarded", "-o", pdf}).exit, 2);
    EXPECT_EQ(bytes_of(pdf), archived);
    EXPECT_EQ(run({"judge", order(), "--rule", ""}).exit, 2) << "an unset variable is no rule";
}

TEST_F(Order, ReportWithoutPermissionToWriteIsRefused) {
    std::filesystem::permissions(folder_.path(), std::filesystem::perms(0755));
    Call call;
    call.arguments = {"report", order(), "-o", folder_ / "report.pdf"};
    call.nobody = true;
    const Ran ran = run(call);
    if (ran.exit == 126 || ran.exit == 127) GTEST_SKIP() << "the program lies where nobody may run it";
    EXPECT_EQ(ran.exit, 2) << ran.err;
    EXPECT_NE(ran.err.find("report.pdf"), std::string::npos) << ran.err;
}

TEST(Methods, AreListedAndPrinted) {
    const Ran list = run({"methods"});
    EXPECT_EQ(list.exit, 0);
    for (const char* name : {"mil-dtl-44031e-method", "mil-dtl-44031e-specification",
                             "sheet-goods-house-method", "sheet-goods-house-specification"}) {
        EXPECT_NE(list.out.find(name), std::string::npos) << name;
        EXPECT_EQ(run({"methods", name}).out,
                  bytes_of(fmt::format("{}/methods/{}.toml", EBBTIDE_SOURCE_DIR, name)));
    }
    const Ran none = run({"methods", "no-such"});
    EXPECT_EQ(none.exit, 2);
    EXPECT_NE(none.err.find("no-such"), std::string::npos);
}

TEST(Version, IsPrinted) {
    EXPECT_EQ(run({"version"}).out, "ebbtide " EBBTIDE_VERSION "\n");
    EXPECT_EQ(run({"no-such-command"}).exit, 2);
    EXPECT_EQ(run(Call{}).exit, 2);
}

/// Words of a command line; between double quotes stands one word.
std::vector<std::string> words_of(std::string line) {
    line = line.substr(0, line.find(" #"));
    std::vector<std::string> words;
    std::istringstream in(line);
    for (std::string word; in >> std::quoted(word);) words.push_back(word);
    return words;
}

/// Runs a command line of our texts in a folder where the files that it names lie.
void expect_runs(const std::string& line, const TemporaryFolder& folder) {
    std::vector<std::string> words = words_of(line);
    ASSERT_FALSE(words.empty());
    words.erase(words.begin());
    if (const auto redirected = std::ranges::find(words, ">"); redirected != words.end())
        words.erase(redirected, words.end());
    Call call;
    call.arguments = words;
    call.folder = folder.path();
    if (words.front() == "serve") {
        // It serves until somebody ends it.
        call.program = "/usr/bin/timeout";
        call.arguments = {"--preserve-status", "2", EBBTIDE_PROGRAM};
        call.arguments.insert(call.arguments.end(), words.begin(), words.end());
    }
    const Ran ran = run(call);
    // Every statement of conformity is an answer, whatever its exit code.
    const bool answered = words.front() == "judge" && (ran.exit == 10 || ran.exit == 11 || ran.exit == 12);
    EXPECT_TRUE(ran.exit == 0 || answered) << line << "\nended with " << ran.exit << "\n" << ran.err;
    EXPECT_EQ(ran.signal, 0) << line;
}

class Shown : public ::testing::Test {
  protected:
    void SetUp() override {
        namespace fs = std::filesystem;
        fs::create_directory(folder_ / "examples");
        fs::create_directory(folder_ / "build");
        for (const char* order : {"examples/halyard-cloth", "ORDER_DIR", "my-order"})
            fs::copy(example, folder_ / order, fs::copy_options::recursive);
        fs::copy(EBBTIDE_SOURCE_DIR "/examples/awning-live", folder_ / "examples/awning-live",
                 fs::copy_options::recursive);
        fs::copy(EBBTIDE_SOURCE_DIR "/examples/bench-faults", folder_ / "examples/bench-faults",
                 fs::copy_options::recursive);
        for (const char* name : {"recording.csv", "run1.csv", "run2.csv", "check-standard.csv"})
            fs::copy_file(example + "/recordings/W1.csv", folder_ / name);
        fs::copy_file(example + "/bench.toml", folder_ / "bench.toml");
        SheetRecording empty;
        empty.uncharged = true;
        empty.headings = "Time (s),Specimen monitor (V),Electrode monitor (V)";
        empty.clamp_V = 5;  // the example's bench takes a volt for a kilovolt
        empty.noise_V = 0.005;
        write_bytes(folder_ / "empty-fixture.csv", csv_of(empty, 1));
        write_bytes(folder_ / "sheet-map.toml",
                    "schema = \"ebbtide.sheet_map/1\"\nwidth_mm = 40\ncell_mm = 2\n"
                    "surface_resistivity_ohm_sq = 1e11\n");
        write_bytes(folder_ / "times.csv", "decay_s,status\n0.31,measured\n0.22,measured\n0.5,not_reached\n");
        for (const char* name : {"before.csv", "after.csv"})
            write_bytes(folder_ / name, "decay_s\n0.31\n0.29\n0.34\n0.5\n");
        write_bytes(folder_ / "earlier-lots.csv",
                    "lot,decay_s\n1,0.30\n1,0.35\n2,0.28\n2,0.33\n3,0.31\n3,0.36\n4,0.27\n4,0.30\n");
        write_bytes(folder_ / "old-times.csv",
                    "material,lot,tested,level,decay_s\nHalyard cloth,Roll 4,2019-05-06,10%,0.412\n");
        std::string curve = "time,voltage\n";
        for (int i = 0; i < 100; ++i)
            curve += fmt::format("{},{}\n", 0.05 * i, 1000 * std::exp(-0.05 * i) + (i % 3 == 0 ? 1 : -0.5));
        write_bytes(folder_ / "curve.csv", curve);
        ASSERT_EQ(run({"report", example, "-o", folder_ / "report.pdf"}).exit, 0);
        const std::string ledger = folder_ / "lab.ledger";
        for (const auto& command :
             std::vector<std::vector<std::string>>{{"init"},
                                                   {"add", example},
                                                   {"backup", folder_ / "backup.ledger"},
                                                   {"export", folder_ / "export"}}) {
            std::vector<std::string> words{"ledger"};
            words.insert(words.end(), command.begin(), command.end());
            words.insert(words.end(), {"--ledger", ledger});
            ASSERT_EQ(run(words).exit, 0) << command.front();
        }
    }
    TemporaryFolder folder_;
};

TEST_F(Shown, HelpOfEveryCommandHasAnExampleThatRuns) {
    const std::string all = run({"--help"}).out;
    EXPECT_NE(all.find("earth before touching"), std::string::npos);
    for (const std::string command : {"calibrate-fixture",
                                      "check",
                                      "compare",
                                      "convert",
                                      "demo",
                                      "drive",
                                      "fit",
                                      "infer",
                                      "judge",
                                      "ledger",
                                      "ledger add",
                                      "ledger backup",
                                      "ledger check",
                                      "ledger export",
                                      "ledger find",
                                      "ledger get",
                                      "ledger import",
                                      "ledger init",
                                      "ledger materials",
                                      "ledger pedigree",
                                      "ledger person",
                                      "ledger restore",
                                      "ledger revisions",
                                      "ledger transcribe",
                                      "ledger trend",
                                      "ledger void",
                                      "listen",
                                      "lot",
                                      "measure",
                                      "methods",
                                      "plan",
                                      "predict",
                                      "report",
                                      "serve",
                                      "simulate",
                                      "validate",
                                      "verify",
                                      "version"}) {
        EXPECT_NE(all.find(command.substr(0, command.find(' '))), std::string::npos);
        std::vector<std::string> words = words_of(command);
        words.push_back("--help");
        const Ran help = run(words);
        EXPECT_EQ(help.exit, 0);
        const std::size_t at = help.out.find("Example: ");
        ASSERT_NE(at, std::string::npos) << command;
        expect_runs(help.out.substr(at + 9, help.out.find('\n', at) - at - 9), folder_);
    }
}

TEST_F(Shown, CommandsOfReadmeAndHandbookRun) {
    std::vector<std::filesystem::path> texts{EBBTIDE_SOURCE_DIR "/README.md", example + "/README.md"};
    for (const auto& entry : std::filesystem::directory_iterator(EBBTIDE_SOURCE_DIR "/docs/handbook"))
        if (entry.path().extension() == ".md") texts.push_back(entry.path());
    std::size_t commands = 0;
    for (const auto& path : texts) {
        std::istringstream lines(bytes_of(path));
        for (std::string line; std::getline(lines, line);) {
            const std::size_t begin = line.find_first_not_of(" $");
            if (begin == std::string::npos) continue;
            const std::string command = line.substr(begin);
            if (!command.starts_with("ebbtide ") && !command.starts_with("build/ebbtide ")) continue;
            ++commands;
            SCOPED_TRACE(path.string());
            expect_runs(command, folder_);
        }
    }
    EXPECT_GE(commands, 10u);
}

}  // namespace
