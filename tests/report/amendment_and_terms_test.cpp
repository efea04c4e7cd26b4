// A report that replaces another, and a report made under other terms, say so where nobody can miss it.

#include <gtest/gtest.h>

#include "report/invented_order.hpp"
#include "report/report_page.hpp"

namespace {

using namespace ebbtide;
using testing_support::holds;
using testing_support::html_of;
using testing_support::invented_report;

report::ReportInput amended() {
    report::ReportInput input = invented_report();
    input.record.order.revision = 2;
    input.record.order.amendment = plan::Amendment{1,
                                                   Date{2026, 10, 16},
                                                   "A gain was wrong",
                                                   {"The gain of the sensor", "All decay times"},
                                                   "first.pdf"};
    for (int i = 0; i < 12; ++i)
        input.record.amended.push_back("difference " + std::to_string(i) + " <of> twelve");
    return input;
}

report::ReportInput under_other_terms() {
    report::ReportInput input = invented_report();
    input.record.terms.specification = "terms/other.toml";
    input.record.terms.levels = plan::parse_levels_asked("1 %,1/e").value();
    input.record.terms.decision_rule = plan::parse_rule("guarded:0.83U").value();
    return input;
}

// ISO/IEC 17025:2017, 7.8.8, from memory: what was changed is identified, the reason where appropriate, and
// the original that is replaced is referred to.
TEST(AmendedReport, NamesWhatItReplacesWhyAndWhatChanged) {
    const std::string page = html_of(amended());
    EXPECT_TRUE(holds(page, "<h1 data-clause=\"7.8.2.1 a\">Amended test report: Wiping cloth"));
    EXPECT_TRUE(holds(page,
                      "data-clause=\"7.8.8.3\">This report replaces report TP-2026-0412, revision 1, issued "
                      "2026-10-16"));
    EXPECT_TRUE(holds(page, "data-clause=\"7.8.8.1\">A gain was wrong"));
    EXPECT_TRUE(holds(page, "The gain of the sensor\nAll decay times"));
    EXPECT_FALSE(holds(html_of(invented_report()), "7.8.8"));
}

TEST(AmendedReport, ShowsTheFirstDifferencesInFrontAndAllOfThemBehind) {
    const std::string page = html_of(amended());
    const std::size_t statement = page.find("class=\"statement\""), chapter = page.find("<h2>Amendment</h2>");
    ASSERT_NE(chapter, std::string::npos);
    EXPECT_LT(page.find("difference 0 &lt;of&gt; twelve"), statement);
    EXPECT_TRUE(holds(page.substr(0, statement), "more lines under Amendment"));
    for (int i = 0; i < 12; ++i)
        EXPECT_TRUE(holds(page.substr(chapter), "difference " + std::to_string(i) + " &lt;of&gt; twelve"))
            << i;
    // Few differences stand in front and need no chapter.
    report::ReportInput few = amended();
    few.record.amended.resize(2);
    EXPECT_FALSE(holds(html_of(few), "<h2>Amendment</h2>"));
    report::ReportInput unseen = amended();
    unseen.record.amended.clear();
    unseen.record.order.amendment->replaced_report.clear();
    EXPECT_TRUE(holds(html_of(unseen), "not compared: the replaced report was not at hand"));
}

TEST(ReportUnderOtherTerms, SaysSoOnTopAndOnEveryPage) {
    const std::string page = html_of(under_other_terms());
    EXPECT_TRUE(holds(page, "Test report, judged under other terms: Wiping cloth"));
    EXPECT_TRUE(holds(page, "TP-2026-0412, revision 1 (under other terms, not issued)"));
    const std::string front = page.substr(0, page.find("class=\"statement\""));
    for (const char* words :
         {"this is not the agreed statement of conformity", "tp-cloth-limits, edition 2",
          "t(1 %), t(1/e) for every requirement", "simple acceptance", "guarded acceptance, w = 0.83 U"})
        EXPECT_TRUE(holds(front, words)) << words;
    EXPECT_FALSE(holds(html_of(invented_report()), "other terms"));
}

TEST(ReportUnderOtherTerms, IsNotAuthorisedByWhoeverAuthorisedTheAgreedOne) {
    const std::string page = html_of(under_other_terms());
    EXPECT_TRUE(holds(page, "nobody yet"));
    EXPECT_FALSE(holds(page, "R. Hale"));
    EXPECT_FALSE(holds(page, "Ida Lunt, 2026-10-02, in writing")) << "who agreed to the order's rule";
}

TEST(BothKinds, AreWrittenAsPdf) {
    for (const report::ReportInput& input : {amended(), under_other_terms()})
        for (const report::Paper paper : {report::Paper::a4, report::Paper::letter})
            EXPECT_TRUE(report::to_pdf(input, paper).ok());
}

}  // namespace
