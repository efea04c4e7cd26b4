// An order through the ledger as a person does it: added, found, taken out and verified, exported and put
// back elsewhere, corrected.

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <set>
#include <sstream>

#include "support/program.hpp"

namespace {

using namespace ebbtide::testing_support;
using nlohmann::json;

const std::string example = EBBTIDE_SOURCE_DIR "/examples/halyard-cloth";

class LedgerOfOrders : public ::testing::Test {
  protected:
    void SetUp() override {
        std::filesystem::copy(example, order(), std::filesystem::copy_options::recursive);
        ASSERT_EQ(ledger({"init"}).exit, 0);
    }
    [[nodiscard]] std::string order() const { return folder_ / "order"; }
    [[nodiscard]] std::string path() const { return folder_ / "lab.ledger"; }
    [[nodiscard]] Ran ledger(std::vector<std::string> words, const std::string& in = "") const {
        Call call;
        call.arguments = {"ledger"};
        call.arguments.insert(call.arguments.end(), words.begin(), words.end());
        call.more = {{"EBBTIDE_LEDGER", in.empty() ? path() : in}};
        return run(call);
    }
    [[nodiscard]] json found(std::vector<std::string> words = {}, const std::string& in = "") const {
        words.insert(words.begin(), {"find", "--json"});
        return ledger(words, in).json()["orders"];
    }
    void change(const std::string& from, const std::string& to) const {
        std::string text = bytes_of(order() + "/order.toml");
        const std::size_t at = text.find(from);
        ASSERT_NE(at, std::string::npos) << from;
        write_bytes(order() + "/order.toml", text.replace(at, from.size(), to));
    }
    /// The order with its first two recordings, four runs, which are soon judged.
    void shorten() const {
        std::string text = bytes_of(order() + "/order.toml");
        std::size_t end = text.find("[[recording]]");
        for (int kept = 0; kept < 2; ++kept) end = text.find("[[recording]]", end + 1);
        write_bytes(order() + "/order.toml", text.substr(0, end));
    }
    static std::string head_in(const Ran& ran) {
        const std::size_t at = ran.out.find("head ");
        EXPECT_NE(at, std::string::npos) << ran.out << ran.err;
        return at == std::string::npos ? "" : ran.out.substr(at + 5, 64);
    }
    TemporaryFolder folder_;
};

TEST_F(LedgerOfOrders, GoesInOutElsewhereAndIsVerified) {
    const Ran added = ledger({"add", order(), "--who", "TO", "--why", "first entry"});
    ASSERT_EQ(added.exit, 0) << added.err;
    EXPECT_NE(added.out.find("● pass"), std::string::npos) << added.out;

    // Found by each of what it has, with the figures that judging gives.
    const json orders = found({"--customer", "ropewalk", "--lot", "roll 7", "--material", "launderings",
                               "--method", "mil-dtl", "--specification", "44031e", "--statement", "pass",
                               "--from", "2026-09-18", "--to", "2026-09-30", "--order", "TP-2026"});
    ASSERT_EQ(orders.size(), 1u);
    EXPECT_EQ(orders[0]["order"], "TP-2026-0914");
    EXPECT_EQ(orders[0]["items"].size(), 2u);
    const json judged = run({"judge", order(), "--json"}).json();
    json levels = json::array();
    for (const json& one : judged["runs"])
        for (const json& level : one["figures"]["levels"])
            levels.push_back(
                {one["run"], level["level"], level["status"], level["decay_s"], level["u_decay_s"]});
    json kept = json::array();
    for (const json& level : orders[0]["levels"])
        kept.push_back({level["run"], level["level"], level["status"], level["decay_s"], level["u_decay_s"]});
    std::sort(levels.begin(), levels.end());
    std::sort(kept.begin(), kept.end());
    EXPECT_EQ(kept, levels);
    for (const auto& [option, value] : {std::pair{"--customer", "gannet"}, std::pair{"--statement", "fail"},
                                        std::pair{"--from", "2026-09-19"}, std::pair{"--lot", "roll 8"}})
        EXPECT_TRUE(found({option, value}).empty()) << option;

    // Elsewhere: exported and imported, or backed up and restored, with the same head.
    const std::string head = head_in(ledger({"check"}));
    EXPECT_EQ(head_in(ledger({"export", folder_ / "export"})), head);
    EXPECT_EQ(head_in(ledger({"import", folder_ / "export"}, folder_ / "second.ledger")), head);
    // For other programs: every result as a line, every recording as HDF5, whose runs are the same.
    const std::string table = bytes_of(folder_ / "export/results.csv");
    EXPECT_EQ(std::ranges::count(table, '\n'), static_cast<std::ptrdiff_t>(levels.size()) + 1);
    json of_recordings = json::array(), of_order = json::array();
    for (const auto& file : std::filesystem::directory_iterator(folder_ / "export/recordings")) {
        const json measured = run({"measure", file.path(), "--json"}).json();
        for (const json& one : measured["files"][0]["runs"]) of_recordings.push_back(one["run"]);
    }
    for (const json& one : judged["runs"]) of_order.push_back(one["run"]);
    std::sort(of_recordings.begin(), of_recordings.end());
    std::sort(of_order.begin(), of_order.end());
    EXPECT_EQ(of_recordings, of_order);
    EXPECT_EQ(head_in(ledger({"check"}, folder_ / "second.ledger")), head);
    EXPECT_EQ(ledger({"backup", folder_ / "backup"}).exit, 0);
    EXPECT_EQ(head_in(ledger({"restore", folder_ / "backup"}, folder_ / "third.ledger")), head);

    // The report comes out of the restored ledger byte for byte as out of the folder.
    const auto report_of = [&](const std::string& place, const std::string& out) {
        Call call;
        call.arguments = {"report", place, "-o", folder_ / out};
        call.more = {{"EBBTIDE_LEDGER", folder_ / "third.ledger"}, {"SOURCE_DATE_EPOCH", "1790000000"}};
        const Ran ran = run(call);
        EXPECT_EQ(ran.exit, 0) << ran.err;
        EXPECT_NE(ran.err.find(place == order() ? "taken from the disk" : "taken from the files kept in"),
                  std::string::npos)
            << ran.err;
        return bytes_of(folder_ / out);
    };
    const std::string from_ledger = report_of("TP-2026-0914", "from-ledger.pdf");
    EXPECT_GT(from_ledger.size(), 100'000u);
    EXPECT_TRUE(from_ledger == report_of(order(), "from-folder.pdf"));

    // And out again: made from the kept files alone.
    const std::string pdf = folder_ / "again.pdf";
    const Ran got = ledger({"get", "TP-2026-0914", "-o", pdf}, folder_ / "second.ledger");
    ASSERT_EQ(got.exit, 0) << got.err;
    EXPECT_NE(got.out.find("made again"), std::string::npos);
    const Ran verified = run({"verify", pdf});
    EXPECT_EQ(verified.exit, 0) << verified.out;
    EXPECT_EQ(run({"judge", pdf, "--json"}).json()["runs"], judged["runs"]);
}

TEST_F(LedgerOfOrders, ShowsTheTrendOfAMaterial) {
    ASSERT_EQ(ledger({"add", order()}).exit, 0);
    // The same by hand, from every decay time that find gives.
    double sum = 0;
    int times = 0;
    const json one = found()[0];
    for (const json& level : one["levels"]) {
        const std::string item = level["item"];
        if (item != one["items"][0]["id"] || level["level"] != 0.1 || level["counts"] != true) continue;
        if (!level["decay_s"].is_number()) continue;
        sum += std::log(level["decay_s"].get<double>());
        ++times;
    }
    ASSERT_GT(times, 0);
    const json trend =
        ledger({"trend", "--material", "conductive threads", "--level", "10%", "--by", "month", "--json"})
            .json()["series"];
    ASSERT_EQ(trend.size(), 1u);
    const json period = trend[0]["periods"].at(0);
    EXPECT_EQ(period["period"], "2026-09");
    EXPECT_EQ(period["times"], times);
    EXPECT_NEAR(period["mean_s"].get<double>(), std::exp(sum / times), 1e-9);
    EXPECT_EQ(period["orders"], 1);
    EXPECT_EQ(period["failed"], 0);

    const Ran table = ledger({"trend", "--material", "cloth", "--level", "0.1"});
    EXPECT_EQ(table.exit, 0) << table.err;
    EXPECT_NE(table.out.find("t(10 %)"), std::string::npos) << table.out;
    EXPECT_NE(table.out.find("●"), std::string::npos) << table.out;
    std::istringstream lines(table.out);
    for (std::string line; std::getline(lines, line);)
        EXPECT_LE(std::ranges::count_if(line, [](char c) { return (c & 0xc0) != 0x80; }), 80) << line;
    EXPECT_NE(ledger({"trend", "--material", "film"}).out.find("no tests"), std::string::npos);
}

TEST_F(LedgerOfOrders, KeepsAReportAsItWasIssued) {
    const std::string pdf = folder_ / "report.pdf";
    ASSERT_EQ(run({"report", order(), "-o", pdf}).exit, 0);
    const Ran added = ledger({"add", pdf});
    ASSERT_EQ(added.exit, 0) << added.err;
    ASSERT_EQ(ledger({"get", "TP-2026-0914", "-o", folder_ / "out.pdf"}).exit, 0);
    EXPECT_EQ(bytes_of(folder_ / "out.pdf"), bytes_of(pdf));
    // The order it was made from says nothing new, nor does the report a second time.
    const std::string head = head_in(added);
    EXPECT_EQ(head_in(ledger({"add", order()})), head);
    EXPECT_EQ(head_in(ledger({"add", pdf})), head);
    EXPECT_EQ(head_in(ledger({"check"})), head);
    // Made under other terms it was not issued.
    ASSERT_EQ(run({"report", order(), "--rule", "guarded", "-o", folder_ / "other.pdf"}).exit, 0);
    const Ran refused = ledger({"add", folder_ / "other.pdf"});
    EXPECT_EQ(refused.exit, 2);
    EXPECT_NE(refused.err.find("other terms"), std::string::npos) << refused.err;
}

TEST_F(LedgerOfOrders, CorrectsByRevisionsAndSaysWhatItNeeds) {
    ASSERT_EQ(ledger({"add", order()}).exit, 0);
    change("contact = \"R. Aldous, quality\"", "contact = \"S. Aldous, quality\"");
    const Ran nameless = ledger({"add", order()});
    EXPECT_EQ(nameless.exit, 2);
    EXPECT_NE(nameless.err.find("--who"), std::string::npos) << nameless.err;
    const Ran corrected = ledger({"add", order(), "--who", "IM", "--why", "contact changed"});
    EXPECT_EQ(corrected.exit, 0) << corrected.err;
    EXPECT_NE(corrected.out.find("revision 2"), std::string::npos) << corrected.out;
    EXPECT_EQ(found().size(), 1u) << "the newest is found";
    EXPECT_EQ(found()[0]["levels"].size() > 0, true);
    EXPECT_EQ(ledger({"check"}).exit, 0);
}

TEST_F(LedgerOfOrders, WithdrawsRunsThatTheOrderHasNoMore) {
    ASSERT_EQ(ledger({"add", order()}).exit, 0);
    const std::size_t before = found()[0]["levels"].size();
    // The last recording of the plan leaves it.
    std::string text = bytes_of(order() + "/order.toml");
    text.resize(text.rfind("[[recording]]"));
    write_bytes(order() + "/order.toml", text);
    const Ran ran = ledger({"add", order(), "--who", "IM", "--why", "specimen of another lot"});
    EXPECT_EQ(ran.exit, 0) << ran.err;
    EXPECT_NE(ran.out.find("withdrawn"), std::string::npos) << ran.out;
    EXPECT_LT(found()[0]["levels"].size(), before);
    EXPECT_EQ(ledger({"check"}).exit, 0);
}

TEST_F(LedgerOfOrders, KeepsWhatWasJustReported) {
    shorten();
    const std::string pdf = folder_ / "issued.pdf";
    const std::vector<std::string> keeping{"--ledger", path(), "--keep", "--who", "TO", "--why", "issued"};
    const auto with = [&](std::vector<std::string> words) {
        words.insert(words.end(), keeping.begin(), keeping.end());
        return run(words);
    };
    const Ran reported = with({"report", order(), "-o", pdf});
    ASSERT_EQ(reported.exit, 0) << reported.err;
    EXPECT_NE(reported.err.find("kept, revision 1"), std::string::npos) << reported.err;
    ASSERT_EQ(ledger({"get", "TP-2026-0914", "-o", folder_ / "out.pdf"}).exit, 0);
    EXPECT_TRUE(bytes_of(folder_ / "out.pdf") == bytes_of(pdf)) << "the very report is kept";
    const std::string head = head_in(ledger({"check"}));
    // Read back, verified and judged again it says nothing new.
    EXPECT_EQ(head_in(ledger({"add", pdf})), head);
    EXPECT_EQ(with({"judge", "TP-2026-0914", "--json"}).json()["runs"].size(), 4u);
    EXPECT_EQ(head_in(ledger({"check"})), head);
    // Only what was agreed is kept, as PDF, and in a ledger that is named.
    for (const auto& [words, remedy] : std::vector<std::pair<std::vector<std::string>, std::string>>{
             {{"judge", order(), "--keep"}, "--ledger PATH"},
             {{"judge", order(), "--keep", "--ledger", path(), "--rule", "guarded"}, "Leave out"},
             {{"judge", "no such order", "--ledger", path()}, "ledger find"},
             {{"report", order(), "-o", folder_ / "r.html", "--keep", "--ledger", path()}, "ends in .pdf"},
             {{"report", order(), "-o", folder_ / "r.pdf", "--keep", "--ledger", folder_ / "none"},
              "ledger init"}}) {
        const Ran refused = run(words);
        EXPECT_EQ(refused.exit, 2) << fmt::format("{}", fmt::join(words, " "));
        EXPECT_NE(refused.err.find(remedy), std::string::npos) << refused.err;
    }
    EXPECT_FALSE(std::filesystem::exists(folder_ / "r.pdf"));
}

TEST_F(LedgerOfOrders, IssuesNothingThatTheLedgerRefuses) {
    shorten();
    ASSERT_EQ(ledger({"add", order()}).exit, 0);
    change("contact = \"R. Aldous, quality\"", "contact = \"S. Aldous, quality\"");
    const std::string pdf = folder_ / "issued.pdf";
    const Ran refused = run({"report", order(), "-o", pdf, "--ledger", path(), "--keep"});
    EXPECT_EQ(refused.exit, 2);
    EXPECT_NE(refused.err.find("--who"), std::string::npos) << refused.err;
    EXPECT_FALSE(std::filesystem::exists(pdf));
}

TEST_F(LedgerOfOrders, WithdrawsAndTellsWhoAndWhy) {
    shorten();
    ASSERT_EQ(ledger({"add", order(), "--who", "TO", "--why", "first entry"}).exit, 0);
    const std::size_t levels = found()[0]["levels"].size();
    EXPECT_EQ(ledger({"void", "TP-2026-0914"}).exit, 2) << "by nobody, for nothing";

    // One run: found no more, but the statement still rests on it, which is said.
    const std::string label = "W1 front dry-1 + 1";
    const Ran one = ledger({"void", "TP-2026-0914", "--run", label, "--who", "IM", "--why", "mixed up"});
    ASSERT_EQ(one.exit, 0) << one.err;
    EXPECT_NE(one.out.find("still rests on this run"), std::string::npos) << one.out;
    EXPECT_EQ(found()[0]["levels"].size(), levels - 1);
    const json later =
        ledger({"pedigree", "TP-2026-0914/" + label, "--json"}).json()["runs"][0]["entry"]["later"];
    ASSERT_EQ(later.size(), 1u);
    EXPECT_EQ(later[0]["who"], "IM");
    EXPECT_EQ(later[0]["why"], "mixed up");
    EXPECT_EQ(later[0]["voided"], true);
    EXPECT_EQ(ledger({"void", "TP-2026-0914", "--run", label, "--who", "IM", "--why", "x"}).exit, 2);

    // The order as a whole.
    ASSERT_EQ(ledger({"void", "TP-2026-0914", "--who", "IM", "--why", "wrong lot"}).exit, 0);
    EXPECT_TRUE(found().empty());
    EXPECT_EQ(ledger({"get", "TP-2026-0914", "-o", folder_ / "x.pdf"}).exit, 2);
    EXPECT_EQ(ledger({"void", "TP-2026-0914", "--who", "IM", "--why", "again"}).exit, 2);
    const Ran pedigree = ledger({"pedigree", "TP-2026-0914"});
    EXPECT_EQ(pedigree.exit, 0) << "what was withdrawn can still be traced";
    EXPECT_NE(pedigree.out.find("withdrawn by revision 2"), std::string::npos) << pedigree.out;

    // Put back, with who and why; nothing was deleted.
    const Ran nameless = ledger({"add", order()});
    EXPECT_EQ(nameless.exit, 2);
    EXPECT_NE(nameless.err.find("was withdrawn in revision"), std::string::npos) << nameless.err;
    ASSERT_EQ(ledger({"add", order(), "--who", "TO", "--why", "lot was right"}).exit, 0);
    EXPECT_EQ(found()[0]["levels"].size(), levels);
    json statements = json::array();
    const json revisions = ledger({"revisions", "TP-2026-0914", "--json"}).json()["revisions"];
    for (const json& one_revision : revisions)
        if (one_revision["kind"] == "statement")
            statements.push_back(
                {one_revision["revision"], one_revision["who"], one_revision["why"], one_revision["voided"]});
    EXPECT_EQ(statements, json::parse(R"([[1,"TO","first entry",false],[2,"IM","wrong lot",true],
                                          [3,"TO","lot was right",false]])"));
    EXPECT_NE(ledger({"revisions", "TP-2026-0914"}).out.find("3 runs withdrawn"), std::string::npos);
    EXPECT_EQ(ledger({"check"}).exit, 0);
}

TEST_F(LedgerOfOrders, PutsARunBackWithItsOrder) {
    shorten();
    ASSERT_EQ(ledger({"add", order()}).exit, 0);
    const std::size_t levels = found()[0]["levels"].size();
    ASSERT_EQ(
        ledger({"void", "TP-2026-0914", "--run", "W1 back dry-1 + 1", "--who", "IM", "--why", "x"}).exit, 0);
    ASSERT_EQ(ledger({"add", order(), "--who", "IM", "--why", "it was right"}).exit, 0);
    EXPECT_EQ(found()[0]["levels"].size(), levels);
}

TEST_F(LedgerOfOrders, TracesEachFigureToWhatItRestsOn) {
    ASSERT_EQ(ledger({"add", order(), "--who", "TO", "--why", "first entry"}).exit, 0);
    const json judged = run({"judge", order(), "--json"}).json();
    const json& was = judged["runs"][0];
    const auto pedigree = [&](const std::string& figure, std::vector<std::string> words = {}) {
        words.insert(words.begin(), {"pedigree", figure, "--json"});
        return ledger(words).json();
    };
    // By its id, by the beginning of it, by its place in the plan.
    const std::string id = was["run"], label = was["label"];
    const json one = pedigree("TP-2026-0914/" + id, {"--level", "10%"});
    for (const std::string& name : {id.substr(0, 8), label}) {
        json same = pedigree("TP-2026-0914/" + name, {"--level", "0.1"});
        same["figure"] = one["figure"];
        EXPECT_EQ(same, one) << name;
    }
    const json& run = one["runs"][0];
    EXPECT_EQ(run["levels"], was["figures"]["levels"]) << "value, uncertainty and budget";
    EXPECT_EQ(run["recording"]["file"], "recordings/W1.csv");
    EXPECT_TRUE(run["recording"]["segment"].is_number());
    EXPECT_EQ(run["cut"]["release_s"], was["figures"]["release_s"]);
    EXPECT_EQ(run["zero"]["proven"], true);
    EXPECT_EQ(run["release"]["release_source"], "electrode_fall");
    // What the order and the bench file of the example state.
    EXPECT_EQ(run["conditions"]["relative_humidity_percent"], 20.3);
    EXPECT_EQ(run["item"]["lot"], "Roll 7");
    EXPECT_EQ(one["order"]["tested_by"], "T. Okafor");
    EXPECT_EQ(one["bench"]["sensor"]["serial"], "TP-0172");
    EXPECT_EQ(one["bench"]["calibrations"][0]["certificate"], "TP-C-2026-031");
    EXPECT_EQ(one["bench"]["calibrations"][0]["in_force"], true);
    EXPECT_EQ(one["method"]["edition"], "MIL-DTL-44031E");
    EXPECT_EQ(run["entry"]["who"], "TO");
    EXPECT_EQ(one["head"]["sha256"], head_in(ledger({"check"})));

    const json mean = pedigree("TP-2026-0914/3.10-average", {"--group", "warp, as received"});
    EXPECT_EQ(mean["requirements"][0]["findings"][0], judged["requirements"][0]["findings"][0]);
    EXPECT_EQ(mean["runs"].size(), 6u) << "three specimens, both faces";
    EXPECT_EQ(pedigree("TP-2026-0914")["runs"].size(), judged["runs"].size());

    const Ran text = ledger({"pedigree", "TP-2026-0914/" + label});
    for (const char* part :
         {"t(10 %)", "relative humidity", "recordings/W1.csv", "electrode fall", "20.3 % RH", "TP-C-2026-031",
          "in force", "T. Okafor", "none kept on either side", "head"})
        EXPECT_NE(text.out.find(part), std::string::npos) << part;

    for (const std::vector<std::string>& words :
         std::vector<std::vector<std::string>>{{"TP-2026-0914/W9"},
                                               {"no such order"},
                                               {"TP-2026-0914/" + label, "--level", "50%"},
                                               {"TP-2026-0914/" + label, "--level", "x"},
                                               {"TP-2026-0914", "--level", "10%"},
                                               {"TP-2026-0914/3.10-average"},
                                               {"TP-2026-0914/3.10-average", "--group", "weft"},
                                               {"TP-2026-0914/F2 back dry-1 + 1"},
                                               {"TP-2026-0914", "--revision", "2"}}) {
        std::vector<std::string> all{"pedigree"};
        all.insert(all.end(), words.begin(), words.end());
        const Ran refused = ledger(all);
        EXPECT_EQ(refused.exit, 2) << fmt::format("{}", fmt::join(words, " "));
        EXPECT_EQ(refused.out, "");
        EXPECT_NE(refused.err, "");
    }
}

TEST_F(LedgerOfOrders, SaysThatACertificateHadRunOut) {
    shorten();
    std::string bench = bytes_of(order() + "/bench.toml");
    const std::string due = "due = 2027-03-09";
    write_bytes(order() + "/bench.toml", bench.replace(bench.find(due), due.size(), "due = 2026-09-17"));
    ASSERT_EQ(ledger({"add", order()}).exit, 0);
    // Tested from the 15th to the 18th of September: on the last day it had run out.
    const json one = ledger({"pedigree", "TP-2026-0914/W1 front dry-1 + 1", "--json"}).json();
    EXPECT_EQ(one["bench"]["calibrations"][0]["in_force"], false);
    EXPECT_EQ(one["bench"]["calibrations"][1]["in_force"], true);
}

TEST_F(LedgerOfOrders, KeepsHandCopiedTimesApart) {
    const std::string table =
        "material;lot;tested;level;decay_s;u_decay_s;note\n"
        "Halyard cloth;Roll 4;06.05.2019;10%;0,412;0,02;wet day\n"
        "Deck foam;Roll 9;07.05.2019;1/e;1,5;;\n";
    const std::string file = folder_ / "old.csv";
    write_bytes(file, table);
    const std::vector<std::string> by{"--who", "TO", "--why", "notebook 4"};
    const auto transcribe = [&](const std::string& what) {
        return ledger({"transcribe", what, by[0], by[1], by[2], by[3]});
    };
    const auto transcribed = [&](std::vector<std::string> words = {}) {
        words.insert(words.begin(), {"find", "--transcribed", "--json"});
        return ledger(words).json()["transcripts"];
    };
    EXPECT_EQ(ledger({"transcribe", file}).exit, 2) << "by nobody";
    const Ran done = transcribe(file);
    ASSERT_EQ(done.exit, 0) << done.err;
    json times = transcribed();
    ASSERT_EQ(times.size(), 2u);
    EXPECT_EQ(times[0]["material"], "Deck foam") << "the newest first";
    EXPECT_TRUE(times[0]["u_decay_s"].is_null());
    EXPECT_EQ(times[1]["decay_s"], 0.412);
    EXPECT_EQ(times[1]["who"], "TO");
    EXPECT_EQ(times[1]["source"]["row"], 2);
    EXPECT_EQ(transcribed({"--material", "CLOTH", "--to", "2019-05-06"}).size(), 1u);
    EXPECT_EQ(transcribed({"--lot", "roll 7"}).size(), 0u);
    EXPECT_EQ(ledger({"find", "--transcribed", "--statement", "pass"}).exit, 2);
    EXPECT_EQ(ledger({"find", "--transcribed", "--certificate", "TP-C-2026-031"}).exit, 2);
    EXPECT_TRUE(found().empty()) << "they are no orders and no runs";
    EXPECT_EQ(head_in(transcribe(file)), head_in(done)) << "again: nothing new";

    // All rows or none.
    write_bytes(file, table + "Deck foam;Roll 9;07.05.2019;1/e;about 2;;\n");
    const Ran refused = transcribe(file);
    EXPECT_EQ(refused.exit, 2);
    EXPECT_NE(refused.err.find("old.csv:4: column 5 'decay_s': 'about 2'"), std::string::npos) << refused.err;
    EXPECT_EQ(head_in(ledger({"check"})), head_in(done));

    // As a spreadsheet of long ago saved it: Latin-1, 0xE4 is a small a with two dots.
    write_bytes(folder_ / "latin.csv", "material,tested,level,decay_s\nS\xE4mchen,2019-05-08,10%,0.4\n");
    ASSERT_EQ(transcribe(folder_ / "latin.csv").exit, 0);
    EXPECT_EQ(transcribed({"--from", "2019-05-08"})[0]["material"], "S\xC3\xA4mchen");
    ASSERT_EQ(transcribed().size(), 3u);

    // Copied wrong: withdrawn as a file, and the file itself stays.
    const std::string id = times[0]["transcript"].get<std::string>().substr(0, 16);
    ASSERT_EQ(ledger({"void", id, "--transcribed", "--who", "IM", "--why", "copied wrong"}).exit, 0);
    EXPECT_EQ(transcribed().size(), 1u);
    EXPECT_EQ(ledger({"void", id, "--transcribed", "--who", "IM", "--why", "again"}).exit, 2);
    EXPECT_EQ(ledger({"check"}).exit, 0);
}

TEST_F(LedgerOfOrders, RefusesU0000ByName) {
    change("\"Ropewalk Cloth Mill\"", "\"Ropewalk\\u0000Mill\"");
    const Ran ran = ledger({"add", order()});
    EXPECT_EQ(ran.exit, 2);
    EXPECT_NE(ran.err.find("customer.name"), std::string::npos) << ran.err;
    EXPECT_TRUE(found().empty()) << "nothing of it was written";
}

TEST_F(LedgerOfOrders, TakesHostileNamesAsTheyAre) {
    const std::string hostile = R"('); DROP TABLE entry; -- \" ▲ %s)";
    change("\"Ropewalk Cloth Mill\"", "\"" + hostile + "\"");
    ASSERT_EQ(ledger({"add", order()}).exit, 0);
    EXPECT_EQ(found()[0]["customer"], R"('); DROP TABLE entry; -- " ▲ %s)");
    EXPECT_EQ(found({"--customer", "' OR 1=1 --"}).size(), 0u);
    EXPECT_EQ(found({"--customer", "DROP TABLE entry; --"}).size(), 1u);
    EXPECT_EQ(ledger({"check"}).exit, 0);
}

TEST_F(LedgerOfOrders, SaysWhatIsDamagedAndWhatToDo) {
    ASSERT_EQ(ledger({"add", order()}).exit, 0);
    ASSERT_EQ(ledger({"export", folder_ / "export"}).exit, 0);
    std::string entries = bytes_of(folder_ / "export/entries.jsonl");
    entries[entries.size() / 2] = static_cast<char>(entries[entries.size() / 2] ^ 1);
    write_bytes(folder_ / "export/entries.jsonl", entries);
    EXPECT_EQ(ledger({"import", folder_ / "export"}, folder_ / "bad.ledger").exit, 20);
    EXPECT_FALSE(std::filesystem::exists(folder_ / "bad.ledger"))
        << "a ledger that was never filled stays behind";

    // Every copy of a decay time: pages keep some in parts that they no longer use.
    std::string bytes = bytes_of(path());
    const std::string key = "\"decay_s\":0.";
    for (std::size_t at = 0; (at = bytes.find(key, at)) != std::string::npos; at += key.size())
        bytes[at + key.size()] = bytes[at + key.size()] == '7' ? '3' : '7';
    write_bytes(path(), bytes);
    const Ran damaged = ledger({"check"});
    EXPECT_EQ(damaged.exit, 20) << damaged.out << damaged.err;
    EXPECT_NE(damaged.out.find("its body is not what was written"), std::string::npos) << damaged.out;
    EXPECT_NE(damaged.out.find("backup"), std::string::npos);
}

TEST_F(LedgerOfOrders, EndsWithTwoAndARemedyOnWrongUse) {
    for (const std::vector<std::string>& words :
         std::vector<std::vector<std::string>>{{"init"},
                                               {"add", "no such order"},
                                               {"add", example + "/order.toml"},
                                               {"get", "no such order", "-o", folder_ / "x.pdf"},
                                               {"get", "TP-2026-0914", "-o", "x.txt"},
                                               {"find", "--from", "yesterday"},
                                               {"find", "--statement", "passed"},
                                               {"trend"},
                                               {"trend", "--material", "cloth", "--level", "much"},
                                               {"trend", "--material", "cloth", "--by", "week"},
                                               {"import", example},
                                               {"restore", folder_ / "no such file"},
                                               {}}) {
        const Ran ran = ledger(words);
        EXPECT_EQ(ran.exit, 2) << fmt::format("{}", fmt::join(words, " "));
        EXPECT_NE(ran.err + ran.out, "");
    }
    for (const char* command : {"check", "find"})
        EXPECT_EQ(ledger({command}, folder_ / "no such ledger").exit, 2) << command;
    EXPECT_EQ(run({"ledger", "check"}).exit, 2) << "no ledger is named";
}

}  // namespace
