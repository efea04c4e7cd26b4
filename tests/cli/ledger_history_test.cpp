// What was corrected, withdrawn and put back, by whom and why, and what a figure rests on.

#include <fmt/format.h>

#include <algorithm>

#include "cli/ledger_of_orders.hpp"

namespace {

using namespace ebbtide::testing_support;
using nlohmann::json;

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
          "in force", "T. Okafor", "not known: the recording", "head"})
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

}  // namespace
