// A later revision says which issued report it replaces, why, and what changed; a first one has nothing to
// replace.

#include <gtest/gtest.h>

#include "paperwork/documents.hpp"

namespace ebbtide::paperwork {
namespace {

using documents::changed;
using documents::line_of;
using documents::refused;

const std::string amendment = R"([amendment]
replaces_revision = 2
replaces_issued = 2026-01-09
reason = "A wrong gain"
changes = ["The gain of the sensor", "The address of the customer"]
replaced_report = "issued/o1-2.pdf"

)";

/// An order of revision 3, issued, with an amendment.
std::string amended() {
    std::string text = changed(documents::order, "revision = 1", "revision = 3");
    text = changed(text, "tested_to = 2026-01-06", "tested_to = 2026-01-06\nissued = 2026-02-01");
    return changed(text, "[[item]]", amendment + "[[item]]");
}

TEST(Amendment, IsReadOfALaterRevision) {
    const auto order = parse_order(amended(), "order.toml");
    ASSERT_TRUE(order.ok()) << order.error().text();
    ASSERT_TRUE(order->amendment);
    EXPECT_EQ(order->amendment->replaces_revision, 2);
    EXPECT_EQ(order->amendment->replaces_issued, (Date{2026, 1, 9}));
    EXPECT_EQ(order->amendment->reason, "A wrong gain");
    EXPECT_EQ(order->amendment->changes.size(), 2u);
    EXPECT_EQ(order->amendment->replaced_report, "issued/o1-2.pdf");
    const auto without_file =
        parse_order(changed(amended(), "replaced_report = \"issued/o1-2.pdf\"\n", ""), "order.toml");
    ASSERT_TRUE(without_file.ok()) << without_file.error().text();
    EXPECT_EQ(without_file->amendment->replaced_report, "");
    EXPECT_FALSE(parse_order(documents::order, "order.toml")->amendment);
}

TEST(Amendment, IsAskedOfEveryRevisionAfterTheFirstAndOfNoneBefore) {
    const auto none = parse_order(changed(documents::order, "revision = 1", "revision = 2"), "order.toml");
    EXPECT_TRUE(refused(none, "revision 2 states no [amendment]"));
    EXPECT_TRUE(refused(none, "order.toml:" + line_of(documents::order, "revision = 1")));
    const std::string first = changed(amended(), "revision = 3", "revision = 1");
    EXPECT_TRUE(refused(parse_order(first, "order.toml"), "revision 1 replaces no report"));
}

TEST(Amendment, WithoutWhatItMustSayIsRefused) {
    for (const auto& [from, to, part] : std::initializer_list<std::array<const char*, 3>>{
             {"replaces_revision = 2", "replaces_revision = 3", "revision 3 cannot replace revision 3"},
             {"replaces_revision = 2\n", "", "'amendment.replaces_revision' is missing"},
             {"replaces_issued = 2026-01-09\n", "", "'amendment.replaces_issued' is missing"},
             {"replaces_issued = 2026-01-09", "replaces_issued = 2026-02-02", "after this one, 2026-02-01"},
             {"reason = \"A wrong gain\"\n", "", "'amendment.reason' is missing"},
             {"changes = [\"The gain of the sensor\", \"The address of the customer\"]", "changes = []",
              "no change is stated"},
             {"issued/o1-2.pdf", "../o1-2.pdf", "amendment.replaced_report"},
             {"reason = \"A", "cause = \"A", "unknown key 'amendment.cause'"}})
        EXPECT_TRUE(refused(parse_order(changed(amended(), from, to), "order.toml"), part)) << to;
}

}  // namespace
}  // namespace ebbtide::paperwork
