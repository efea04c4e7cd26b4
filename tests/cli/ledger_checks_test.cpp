// Bench checks in the ledger, from the bench to the pedigree of a run; people, materials, validations.

#include <gtest/gtest.h>

#include <algorithm>

#include "support/documented_keys.hpp"

namespace {

using namespace ebbtide::testing_support;
using nlohmann::json;

/// The awning order beside a ledger that the environment names.
class LedgerOfABench : public ::testing::Test {
  protected:
    void SetUp() override {
        std::filesystem::copy(EBBTIDE_SOURCE_DIR "/examples/awning-live", order(),
                              std::filesystem::copy_options::recursive);
        ASSERT_EQ(run_named({"ledger", "init"}).exit, 0);
    }
    [[nodiscard]] std::string order() const { return beside_ / "order"; }
    [[nodiscard]] std::string in(const std::string& name) const { return order() + "/" + name; }
    [[nodiscard]] Ran run_named(const std::vector<std::string>& words) const {
        Call call;
        call.arguments = words;
        call.more = {{"EBBTIDE_LEDGER", beside_ / "lab.ledger"}};
        return run(call);
    }
    [[nodiscard]] Ran ledger(std::vector<std::string> words) const {
        words.insert(words.begin(), "ledger");
        return run_named(words);
    }
    [[nodiscard]] Ran at_the_bench(std::vector<std::string> words) const {
        words.insert(words.end(), {"--who", "TO", "--simulated", in("simulation.toml")});
        return run_named(words);
    }
    [[nodiscard]] json checks(std::vector<std::string> words = {}) const {
        words.insert(words.begin(), {"find", "--checks", "--json"});
        return ledger(words).json()["checks"];
    }
    TemporaryFolder beside_;
};

TEST_F(LedgerOfABench, NamesTheChecksOnEitherSideOfARun) {
    ASSERT_EQ(at_the_bench({"check", in("bench.toml")}).exit, 0);
    ASSERT_EQ(at_the_bench({"drive", order()}).exit, 0);
    const json opening = checks();
    ASSERT_EQ(opening.size(), 1u) << "kept as it was made, before any order was added";
    EXPECT_EQ(opening[0]["who"], "TO");
    EXPECT_EQ(opening[0]["record"]["outcome"], "good");
    for (const json& step : opening[0]["record"]["steps"])
        EXPECT_TRUE(step["sha256"].is_string()) << "its recording is kept";
    ASSERT_EQ(ledger({"add", order(), "--who", "TO", "--why", "first entry"}).exit, 0);
    EXPECT_EQ(checks().size(), 1u) << "the order's copy of the check says nothing new";

    const std::string id = opening[0]["check"];
    const auto orders = [&](const std::string& check) {
        return ledger({"find", "--check", check, "--json"}).json()["orders"].size();
    };
    EXPECT_EQ(orders(id), 1u);
    EXPECT_EQ(orders("closing"), 0u);
    EXPECT_NE(ledger({"find", "--checks"}).out.find("● good"), std::string::npos);

    // Before and after: the closing check comes when the statement is written already.
    const std::string name = ledger({"find", "--json"}).json()["orders"][0]["order"];
    const auto pedigree = [&] { return ledger({"pedigree", name, "--json"}).json(); };
    const json before = pedigree();
    ASSERT_EQ(before["bench"]["checks"].size(), 1u);
    EXPECT_EQ(before["bench"]["checks"][0]["check"], id);
    for (const json& one : before["runs"]) {
        EXPECT_EQ(one["checks"]["before"]["check"], id);
        EXPECT_TRUE(one["checks"]["after"].is_null());
    }
    ASSERT_EQ(at_the_bench({"check", in("bench.toml"), "--closing"}).exit, 0);
    const json after = pedigree();
    for (const json& one : after["runs"]) {
        EXPECT_EQ(keys_of(one), documented("ledger.md", "### A run of a pedigree"));
        EXPECT_EQ(one["checks"]["before"]["outcome"], "good");
        EXPECT_EQ(one["checks"]["after"]["kind"], "closing");
        EXPECT_TRUE(one["checks"]["override"].is_null());
        EXPECT_EQ(keys_of(one["checks"]["after"]), documented("ledger.md", "### A check of a pedigree"));
    }
    const Ran text = ledger({"pedigree", name + "/" + after["runs"][0]["label"].get<std::string>()});
    for (const char* part : {"check before", "check after", "opening check of", "closing check of", "by TO"})
        EXPECT_NE(text.out.find(part), std::string::npos) << part << "\n" << text.out;
    const Ran checked = ledger({"check"});
    EXPECT_EQ(checked.exit, 0) << checked.out;
}

TEST_F(LedgerOfABench, KeepsAnOverrideWithTheOrderThatRestsOnIt) {
    ASSERT_EQ(at_the_bench({"drive", order(), "--override", "a demonstration"}).exit, 0);
    ASSERT_EQ(ledger({"add", order()}).exit, 0);
    const json kept = checks({"--check", "override"});
    ASSERT_EQ(kept.size(), 1u);
    EXPECT_EQ(kept[0]["record"]["reason"], "a demonstration");
    EXPECT_EQ(keys_of(kept[0]), documented("ledger.md", "### A bench check"));
    EXPECT_EQ(ledger({"find", "--check", "override", "--json"}).json()["orders"].size(), 1u);
    EXPECT_NE(ledger({"find", "--checks"}).out.find("override"), std::string::npos);
    // Withdrawn it is found no more, and the chain keeps it.
    const std::string id = kept[0]["check"];
    EXPECT_EQ(ledger({"void", id, "--check"}).exit, 2) << "by nobody";
    ASSERT_EQ(ledger({"void", id, "--check", "--who", "IM", "--why", "written by mistake"}).exit, 0);
    EXPECT_TRUE(checks({"--check", "override"}).empty());
    EXPECT_EQ(ledger({"void", id, "--check", "--who", "IM", "--why", "again"}).exit, 2);
    EXPECT_EQ(ledger({"check"}).exit, 0);
}

TEST_F(LedgerOfABench, TakesTheRecordOfACheckThatWasMadeWithoutIt) {
    ASSERT_EQ(run({"check", in("bench.toml"), "--who", "IM", "--simulated", in("simulation.toml")}).exit, 0);
    std::string record;
    for (const auto& file : std::filesystem::directory_iterator(in("checks")))
        if (file.path().extension() == ".json") record = file.path();
    const Ran added = ledger({"add", record});
    ASSERT_EQ(added.exit, 0) << added.err;
    EXPECT_NE(added.out.find("good"), std::string::npos) << added.out;
    EXPECT_NE(ledger({"add", record}).out.find("there already"), std::string::npos);
    EXPECT_EQ(checks()[0]["who"], "IM") << "who made it, by the record";
    // Edited, it is another record of that name: not without saying who and why.
    std::string text = bytes_of(record);
    const std::size_t at = text.find("\"good\"");
    ASSERT_NE(at, std::string::npos);
    write_bytes(record, text.replace(at, 6, "\"failed\""));
    const Ran refused = ledger({"add", record});
    EXPECT_EQ(refused.exit, 2);
    EXPECT_NE(refused.err.find("--who"), std::string::npos) << refused.err;
    EXPECT_EQ(ledger({"find", "--checks", "--customer", "x"}).exit, 2) << "a check has no customer";
    EXPECT_EQ(run_named({"check", in("bench.toml"), "--ledger", beside_ / "none"}).exit, 2);
    EXPECT_EQ(ledger({"check"}).exit, 0);
}

TEST_F(LedgerOfABench, SaysWhoseInitialsStandInIt) {
    ASSERT_EQ(ledger({"person", "T. Okafor", "--initials", "TO"}).exit, 0);
    const Ran taken = ledger({"person", "T. Ostrow", "--initials", "TO"});
    EXPECT_EQ(taken.exit, 2);
    EXPECT_NE(taken.err.find("T. Okafor"), std::string::npos) << taken.err;
    EXPECT_EQ(ledger({"person", "T. Okafor", "--initials", "TOK"}).exit, 2) << "corrected by nobody";
    EXPECT_EQ(ledger({"person", "T. Okafor", "--initials", ""}).exit, 2);
    EXPECT_EQ(ledger({"person", "T. Okafor", "--initials", "TOK", "--who", "IM", "--why", "two TO"}).exit, 0);
    ASSERT_EQ(ledger({"person", "T. Ostrow", "--initials", "TO"}).exit, 0) << "free again";
    // An order that names the person says nothing of initials, and changes none.
    ASSERT_EQ(ledger({"add", EBBTIDE_SOURCE_DIR "/examples/halyard-cloth"}).exit, 0);
    const json people = ledger({"pedigree", "TP-2026-0914", "--json"}).json()["people"];
    ASSERT_GE(people.size(), 1u);
    EXPECT_EQ(people[0]["name"], "T. Okafor");
    EXPECT_EQ(people[0]["role"], "tested");
    EXPECT_EQ(people[0]["initials"], "TOK");
    EXPECT_NE(ledger({"pedigree", "TP-2026-0914"}).out.find("T. Okafor (TOK)"), std::string::npos);
}

TEST_F(LedgerOfABench, ListsMaterials) {
    EXPECT_EQ(ledger({"materials"}).out, "0 materials\n");
    ASSERT_EQ(ledger({"add", EBBTIDE_SOURCE_DIR "/examples/halyard-cloth"}).exit, 0);
    const json materials = ledger({"materials", "--json"}).json()["materials"];
    ASSERT_EQ(materials.size(), 2u);
    for (const json& one : materials) {
        EXPECT_EQ(keys_of(one), documented("ledger.md", "### A material"));
        EXPECT_EQ(one["orders"], 1);
    }
    EXPECT_NE(ledger({"materials"}).out.find("2 materials"), std::string::npos);
}

TEST_F(LedgerOfABench, KeepsTheDatedReportOfAValidation) {
    const Ran validated = run_named({"validate", "--who", "TO", "--json"});
    ASSERT_EQ(validated.exit, 0) << validated.err;
    const json document = validated.json();
    const json kept = ledger({"find", "--validations", "--json"}).json()["validations"];
    ASSERT_EQ(kept.size(), 1u);
    EXPECT_EQ(keys_of(kept[0]), documented("ledger.md", "### A validation"));
    EXPECT_EQ(kept[0]["made"], document["made"]);
    EXPECT_EQ(kept[0]["checks"], document["checks"].size());
    EXPECT_EQ(kept[0]["all_agree"], true);
    const std::string id = kept[0]["validation"];
    ASSERT_EQ(ledger({"get", id, "--validation", "-o", beside_ / "v.pdf"}).exit, 0);
    EXPECT_EQ(bytes_of(beside_ / "v.pdf").substr(0, 5), "%PDF-");
    EXPECT_EQ(ledger({"get", "another", "--validation", "-o", beside_ / "w.pdf"}).exit, 2);
    EXPECT_NE(ledger({"find", "--validations"}).out.find("checks agree"), std::string::npos);
    EXPECT_TRUE(
        ledger({"find", "--validations", "--to", "2020-01-01", "--json"}).json()["validations"].empty());
    EXPECT_EQ(ledger({"find", "--validations", "--lot", "7"}).exit, 2);
    EXPECT_EQ(run_named({"validate", "--ledger", beside_ / "none"}).exit, 2)
        << "before anything is worked out";
    EXPECT_EQ(ledger({"check"}).exit, 0);
}

}  // namespace
