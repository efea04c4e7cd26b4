// An order that is taken in reads back as what was sent, or is not there at all.

#include "work/intake.hpp"

#include <gtest/gtest.h>
#include <rapidcheck.h>
#include <rapidcheck/gtest.h>

#include <algorithm>
#include <functional>

#include "paperwork/paperwork.hpp"
#include "record/json.hpp"
#include "support/program.hpp"
#include "work/order_at_hand.hpp"
#include "work/order_documents.hpp"
#include "work/order_edit.hpp"
#include "work/order_text.hpp"

namespace {

using namespace ebbtide;
using namespace ebbtide::testing_support;

plan::Order example_order(const char* name) {
    const std::string file = std::string(EBBTIDE_SOURCE_DIR "/examples/") + name + "/order.toml";
    return paperwork::parse_order(bytes_of(file), "order.toml").value();
}

/// The awning order, which brings nothing but its plan.
work::Intake awnings() {
    work::Intake intake{"", example_order("awning-live"),
                        bytes_of(EBBTIDE_SOURCE_DIR "/examples/awning-live/bench.toml")};
    intake.order.method.edition.clear();
    intake.order.due = Date{2026, 12, 4};
    return intake;
}

TEST(Intake, MakesAnOrderThatReadsBackAsItWasSent) {
    const TemporaryFolder folder;
    const auto made = work::take_in(folder.path(), awnings());
    ASSERT_TRUE(made.ok()) << made.error().text();
    EXPECT_EQ(made->key, "TP-2026-1127");
    EXPECT_EQ(made->files, (std::vector<std::string>{"order.toml", "live.toml", "bench.toml"}));
    record::OrderRecord documents;
    const auto read = work::read_documents(*work::folder_files(made->folder), {}, documents);
    ASSERT_TRUE(read.ok()) << read.error().text();
    plan::Order sent = awnings().order;
    sent.method.edition = "1";  // the shipped one's
    EXPECT_EQ(record::json_of(documents.order), record::json_of(sent));
    EXPECT_EQ(bytes_of(made->folder + "/bench.toml"), awnings().bench);
    for (const auto& entry : std::filesystem::directory_iterator(folder.path()))
        EXPECT_EQ(entry.path().filename(), "TP-2026-1127") << "nothing is left beside it";
}

TEST(Intake, OverwritesNothing) {
    const TemporaryFolder folder;
    ASSERT_TRUE(work::take_in(folder.path(), awnings()).ok());
    const std::string before = bytes_of(folder / "TP-2026-1127/order.toml");
    work::Intake again = awnings();
    again.order.title = "Another";
    EXPECT_EQ(work::take_in(folder.path(), again).error().where, "key");
    EXPECT_EQ(bytes_of(folder / "TP-2026-1127/order.toml"), before);
    // Whatever it is that has the name.
    for (const char* taken : {"empty", "file"}) {
        if (std::string(taken) == "empty")
            std::filesystem::create_directory(folder / taken);
        else
            write_bytes(folder / taken, "x");
        again.key = taken;
        EXPECT_FALSE(work::take_in(folder.path(), again).ok()) << taken;
    }
}

TEST(Intake, RefusesByNameWhatTheOrderFormatRefuses) {
    const TemporaryFolder folder;
    const auto refused = [&](const std::function<void(work::Intake&)>& spoil) {
        work::Intake intake = awnings();
        spoil(intake);
        const auto made = work::take_in(folder.path(), std::move(intake));
        EXPECT_FALSE(made.ok());
        EXPECT_TRUE(std::filesystem::is_empty(folder.path()));
        return made.ok() ? std::string() : made.error().text();
    };
    const auto names = [](const std::string& text, const char* word) {
        EXPECT_NE(text.find(word), std::string::npos) << text;
        EXPECT_EQ(text.find("order.toml:"), std::string::npos)
            << "no lines of a file that is not there: " << text;
    };
    names(refused([](work::Intake& i) { i.order.specimens[0].item = "T"; }), "item");
    names(refused([](work::Intake& i) { i.order.due = Date{2026, 1, 1}; }), "due");
    names(refused([](work::Intake& i) { i.order.tested_to = Date{2026, 1, 1}; }), "tested_to");
    names(refused([](work::Intake& i) { i.order.specimens[1].id = i.order.specimens[0].id; }), "A1");
    names(refused([](work::Intake& i) { i.order.customer.name.clear(); }), "name");
    names(refused([](work::Intake& i) { i.order.specification.edition = "7"; }), "edition");
    names(refused([](work::Intake& i) { i.order.method.file = "../../etc/passwd.toml"; }), "passwd");
    names(refused([](work::Intake& i) { i.order.method.file = "no-such-method"; }), "no-such-method");
    names(refused([](work::Intake& i) { i.bench = "schema = 3"; }), "schema");
    for (const char* key : {"..", ".hidden", "a/b", "a\\b", "a b", "caf\xC3\xA9"})
        names(refused([&](work::Intake& i) { i.key = key; }), "key");
    names(refused([&](work::Intake& i) { i.key = std::string(65, 'a'); }), "key");
}

/// UTF-8 that a hostile or careless person may write.
rc::Gen<std::string> any_text() {
    static const std::vector<std::string> pieces{
        "a",        "\"",   "\\",   "\n",       "\t",           "'''", "\"\"\"", "#",  "=",
        "[[item]]", "\x01", "\x7F", "\xC3\xA9", "\xE2\x82\xAC", "<b>", "${x}",   "\r", "\xF0\x9F\x98\x80"};
    return rc::gen::map(rc::gen::nonEmpty(rc::gen::container<std::vector<int>>(
                            rc::gen::inRange(0, static_cast<int>(pieces.size())))),
                        [](const std::vector<int>& chosen) {
                            std::string text = "x";
                            for (const int i : chosen) text += pieces[static_cast<std::size_t>(i)];
                            return text + "x";
                        });
}

RC_GTEST_PROP(Intake, KeepsEveryTextByteForByteOrRefusesIt, ()) {
    plan::Order order = awnings().order;
    order.title = *any_text();
    order.customer.address = *any_text();
    order.items[0].condition_on_receipt = *any_text();
    order.specimens[0].state = *any_text();
    order.deviations = {*any_text(), *any_text()};
    order.decision_rule.agreed = *any_text();
    const auto read = paperwork::parse_order(work::order_text(order), "order.toml");
    if (read) RC_ASSERT(record::json_of(*read) == record::json_of(order));
}

TEST(Intake, WritesEveryPartOfAnOrder) {
    for (const char* name : {"awning-live", "halyard-cloth", "film-insulator"}) {
        plan::Order order = example_order(name);
        order.recordings.clear();
        order.folders.clear();
        order.live_file = "live.toml";
        order.items[0].supplier = "The mill at Hare Weir";
        order.decision_rule.history.push_back({"r", 0.4, 1e-7, "old reports"});
        const auto read = paperwork::parse_order(work::order_text(order), "order.toml");
        ASSERT_TRUE(read.ok()) << name << read.error().text();
        EXPECT_EQ(record::json_of(*read), record::json_of(order)) << name;
    }
}

TEST(Conditions, AreEnteredWhereNothingIsStatedYet) {
    const TemporaryFolder folder;
    work::Intake intake = awnings();
    intake.order.conditions.push_back({"later", {}, {}, {}, {}});
    const std::string at = work::take_in(folder.path(), std::move(intake)).value().folder;
    const std::string before = bytes_of(at + "/order.toml");
    const Instant now = parse_instant("2026-11-26T09:00:00Z").value();
    work::ConditionsKnown known{"later", 12.5, 23, parse_instant("2026-11-24T08:00:00Z").value(), {}};
    const auto entered = work::enter_conditions(at, known, now);
    ASSERT_TRUE(entered.ok()) << entered.error().text();
    const auto order = paperwork::parse_order(bytes_of(at + "/order.toml"), "order.toml").value();
    EXPECT_EQ(order.conditions.at(1).relative_humidity_percent, 12.5);
    EXPECT_EQ(order.conditions.at(1).conditioned_from, known.conditioned_from);
    EXPECT_FALSE(order.conditions.at(1).conditioned_to);
    EXPECT_EQ(order.conditions.at(0).relative_humidity_percent, 12.2);
    EXPECT_EQ(bytes_of(at + "/earlier/order-20261126T090000Z.toml"), before);
    // The same again is no change; another value is none that may be entered.
    const std::string after = bytes_of(at + "/order.toml");
    EXPECT_TRUE(work::enter_conditions(at, known, now).ok());
    known.relative_humidity_percent = 13;
    EXPECT_EQ(work::enter_conditions(at, known, now).error().where, "relative_humidity_percent");
    EXPECT_EQ(bytes_of(at + "/order.toml"), after);
    EXPECT_FALSE(work::enter_conditions(at, {"none", 1.0, {}, {}, {}}, now).ok());
    EXPECT_FALSE(work::enter_conditions(at, {"later", {}, {}, {}, Instant{}}, now).ok())
        << "ends before it begins";
}

TEST(OrderEdit, SetsKeysAndLeavesTheRest) {
    const std::string text =
        "a = 1\n[dates] # days\nreceived = 2026-01-01\n\n# people\n[people]\ntested_by = \"x\"\n";
    EXPECT_EQ(work::with_keys(text, {{"[dates]", 0, {{"issued", "2026-02-02"}, {"received", "2026-01-03"}}},
                                     {"[people]", 0, {{"authorised_by", "\"y\""}}}})
                  .value(),
              "a = 1\n[dates] # days\nreceived = 2026-01-03\nissued = 2026-02-02\n\n# people\n[people]\n"
              "tested_by = \"x\"\nauthorised_by = \"y\"\n");
    EXPECT_FALSE(work::with_keys("dates = { issued = 1 }\n", {{"[dates]", 0, {{"issued", "2"}}}}).ok());
}

}  // namespace
