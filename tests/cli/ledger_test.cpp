// An order through the ledger as a person does it: added, found, taken out and verified, exported and put
// back elsewhere, corrected.

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <set>
#include <sstream>

#include "cli/ledger_of_orders.hpp"

namespace {

using namespace ebbtide::testing_support;
using nlohmann::json;

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
                                               {"add", halyard_order + "/order.toml"},
                                               {"get", "no such order", "-o", folder_ / "x.pdf"},
                                               {"get", "TP-2026-0914", "-o", "x.txt"},
                                               {"find", "--from", "yesterday"},
                                               {"find", "--statement", "passed"},
                                               {"trend"},
                                               {"trend", "--material", "cloth", "--level", "much"},
                                               {"trend", "--material", "cloth", "--by", "week"},
                                               {"import", halyard_order},
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
