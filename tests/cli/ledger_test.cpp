// An order through the ledger as a person does it: added, found, taken out and verified, exported and put
// back elsewhere, corrected.

#include <fmt/format.h>

#include <algorithm>
#include <set>

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

    // And out again: made from the kept files alone.
    const std::string pdf = folder_ / "again.pdf";
    const Ran got = ledger({"get", "TP-2026-0914", "-o", pdf}, folder_ / "second.ledger");
    ASSERT_EQ(got.exit, 0) << got.err;
    EXPECT_NE(got.out.find("made again"), std::string::npos);
    const Ran verified = run({"verify", pdf});
    EXPECT_EQ(verified.exit, 0) << verified.out;
    EXPECT_EQ(run({"judge", pdf, "--json"}).json()["runs"], judged["runs"]);
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
