// The report as a page: what ISO/IEC 17025:2017 asks for is there, in words, and nothing in it acts.

#include <gtest/gtest.h>

#include "basis/number_text.hpp"
#include "report/invented_order.hpp"
#include "report/report_page.hpp"

namespace {

using namespace ebbtide;
using testing_support::holds;
using testing_support::html_of;
using testing_support::invented_report;

/// The text of the element that answers the clause.
std::string answer_to(const std::string& page, const std::string& clause) {
    const std::string mark = "data-clause=\"" + clause + "\"";
    const auto at = page.find(mark);
    if (at == std::string::npos) return "";
    const auto from = page.find('>', at) + 1;
    std::string text;
    for (std::size_t i = from; i < std::min(page.size(), from + 900); ++i) text += page[i];
    return text;
}

// Letters of ISO/IEC 17025:2017, 7.8.2.1.
TEST(ReportPage, AnswersEveryLetterOfTheStandard) {
    const std::string page = html_of(invented_report());
    const std::pair<const char*, const char*> answers[] = {
        {"a", "Test report: Wiping cloth"},
        {"b", "Tern Point Materials Laboratory"},
        {"c", "Dry room 2"},
        {"d", "TP-2026-0412, revision 1"},
        {"e", "Saltmarsh Weavers"},
        {"f", "tp-house-decay, edition 2026-02"},
        {"g", "C-7"},
        {"h", "2026-10-05"},
        {"i", "2026-10-14 to 2026-10-15"},
        {"j", "2026-10-19"},
        {"k", "none stated; the results apply to the items as received"},
        {"l", "relate only to the items tested"},
        {"m", "t(10 %)"},
        {"n", "Specimen F3 was cut 90 mm"},
        {"o", "R. Hale"},
        {"p", "external providers: none"}};
    for (const auto& [letter, words] : answers)
        EXPECT_TRUE(holds(answer_to(page, std::string("7.8.2.1 ") + letter), words))
            << letter << ": " << words;
    EXPECT_TRUE(holds(answer_to(page, "7.8.3.1 a"), "relative humidity"));
    EXPECT_TRUE(holds(page, "Not to be reproduced except in full"));
    EXPECT_TRUE(holds(page, "End of report TP-2026-0412, revision 1"));
}

// ISO/IEC 17025:2017, 7.8.6: the decision rule with its risk; what was judged, against what.
TEST(ReportPage, StatesTheDecisionRuleAndItsRisk) {
    const std::string page = html_of(invented_report());
    EXPECT_TRUE(holds(answer_to(page, "7.8.6.1"), "Decision rule"));
    EXPECT_TRUE(holds(page, "up to 50 %"));
    EXPECT_TRUE(holds(page, "ILAC-G8:09/2019"));
    EXPECT_TRUE(holds(page, "Agreed: Ida Lunt"));
    EXPECT_TRUE(holds(page, "mean per direction and state of t(10 %) ≤ 0.5 s"));
    EXPECT_TRUE(holds(page, "each run&#39;s t(10 %) &lt; 0.5 s"));
    for (const std::string& reason : invented_report().record.judgement.reasons)
        EXPECT_TRUE(holds(page, reason));
    for (const std::string& caution : invented_report().record.judgement.cautions)
        EXPECT_TRUE(holds(page, caution));
}

TEST(ReportPage, ShowsEachOfTheFiveWordsWithAShapeOfItsOwn) {
    using enum plan::Conformity;
    std::vector<std::string> shapes;
    for (const auto conformity : {pass, conditional_pass, conditional_fail, fail, void_}) {
        report::ReportInput input = invented_report();
        input.record.judgement.statement = conformity;
        const std::string page = html_of(input);
        const auto at = page.find("<p class=\"word\">");
        ASSERT_NE(at, std::string::npos);
        const std::string word = page.substr(at, page.find("</p>", at) - at);
        const auto drawing = word.find("</svg>");
        ASSERT_NE(drawing, std::string::npos) << word;
        EXPECT_TRUE(holds(word.substr(drawing), std::string(plan::name_of(conformity)))) << word;
        shapes.push_back(word.substr(0, drawing));
    }
    for (std::size_t i = 0; i < shapes.size(); ++i)
        for (std::size_t j = 0; j < i; ++j) EXPECT_NE(shapes[i], shapes[j]) << i << " and " << j;
}

TEST(ReportPage, PrintsTheNumbersOfTheRecordAsMetrologistsWriteThem) {
    const report::ReportInput input = invented_report();
    const std::string page = html_of(input);
    int checked = 0;
    for (const judge::JudgedRun& run : input.record.judgement.runs) {
        EXPECT_TRUE(holds(page, run.key.label()));
        const decay::Figures& figures = run.figures.value();
        EXPECT_TRUE(holds(page, uncertain_text(*figures.initial_voltage_V, figures.u_initial_voltage_V)));
        EXPECT_TRUE(holds(page, fixed_text(100 * *figures.accepted_fraction, 1) + " %"));
        EXPECT_TRUE(holds(page, fixed_text(100 * *figures.prompt_drop, 1) + " %"));
        EXPECT_TRUE(holds(page, fixed_text(*figures.residual_V, 1)));
        EXPECT_TRUE(holds(page, uncertain_text(figures.release_s, figures.u_release_s)));
        EXPECT_TRUE(holds(page, uncertain_text(figures.zero_V, figures.u_zero_V)));
        for (const decay::LevelFigure& figure : figures.levels) {
            if (figure.decay_s)
                EXPECT_TRUE(holds(page, uncertain_text(*figure.decay_s, figure.u_decay_s)));
            else
                EXPECT_TRUE(
                    holds(page, "&gt; " + significant_text(*figure.at_least_s, 3) + " (not reached)"));
            ++checked;
        }
        for (const plan::Flag& flag : run.flags) {
            EXPECT_TRUE(holds(page, flag.message));
            EXPECT_TRUE(holds(page, std::string(plan::facts(flag.code).meaning)));
        }
    }
    EXPECT_EQ(checked, 36);
    for (const judge::RequirementOutcome& outcome : input.record.judgement.requirements)
        for (const judge::Finding& finding : outcome.findings) {
            EXPECT_TRUE(holds(page, finding.group));
            EXPECT_TRUE(holds(page, finding.reason));
            const auto text = [](const std::optional<double>& value) {
                return value ? significant_text(*value, 2) : std::string("–");
            };
            EXPECT_TRUE(!finding.u_s || holds(page, uncertain_text(*finding.value_s, finding.u_s)));
            EXPECT_TRUE(holds(page, text(finding.expanded_u_s)));
            EXPECT_TRUE(holds(page, text(finding.spread_s)));
        }
}

TEST(ReportPage, NeverTurnsABoundOrAMissingTimeIntoANumber) {
    report::ReportInput input = invented_report();
    std::vector<decay::LevelFigure>& levels = input.record.judgement.runs[0].figures->levels;
    const auto without_time = [&](std::size_t i, decay::LevelStatus status) {
        levels[i].decay_s.reset();
        levels[i].u_decay_s.reset();
        levels[i].budget.clear();
        levels[i].status = status;
    };
    without_time(0, decay::LevelStatus::below_resolution);
    levels[0].at_most_s = 0.0123;
    without_time(1, decay::LevelStatus::too_noisy);
    levels[1].reason = "noise of 40 % of V0";
    without_time(2, decay::LevelStatus::refused);
    const std::string page = html_of(input);
    EXPECT_TRUE(holds(page, ">&lt; 0.0123 (below resolution)</td>"));
    EXPECT_TRUE(holds(page, ">too noisy</td>"));
    EXPECT_TRUE(holds(page, "<td class=\"name\">1/e</td><td class=\"text\">noise of 40 % of V0</td>"));
    EXPECT_TRUE(holds(page, ">refused</td>"));
}

TEST(ReportPage, ShowsTheLargestLinesOfTheBudgetFirst) {
    const std::string page = html_of(invented_report());
    // Of the run nearest to the limit: zero 0.0021 s, linearity 0.0019 s, noise 0.0012 s.
    const auto zero = page.find(">zero<"), linearity = page.find(">linearity of the sensor<"),
               noise = page.find(">noise at the crossing<"), clock = page.find(">time base<");
    ASSERT_NE(clock, std::string::npos);
    EXPECT_LT(zero, linearity);
    EXPECT_LT(linearity, noise);
    EXPECT_LT(noise, clock);
    EXPECT_TRUE(holds(page, "closest to its limit (0.5 s)"));
    EXPECT_TRUE(holds(page, "0.512(31) s"));
}

TEST(ReportPage, EscapesWhateverItIsGiven) {
    report::ReportInput input = invented_report();
    const std::string hostile = "<script>alert('x')</script>\"&<img src=x onerror=y>\xE2\x80\xAE\x01\xFF";
    plan::Order& order = input.record.order;
    order.id = order.title = order.customer.name = order.laboratory.name = order.laboratory.address = hostile;
    order.items[0].description = order.specimens[0].state = order.authorised_by = hostile;
    order.deviations = order.opinions = order.external_providers = {hostile};
    input.record.method.title = input.record.specification.title = hostile;
    input.record.judgement.reasons = input.record.judgement.cautions = {hostile};
    input.record.judgement.runs[0].flags.emplace_back(plan::FlagCode::spikes, hostile);
    input.record.judgement.runs[0].key.specimen = hostile;
    input.record.judgement.requirements[0].findings[0].group = hostile;
    input.record.judgement.requirements[0].requirement.clause = hostile;
    input.record.recordings[0].file = input.record.recordings[0].dialect = hostile;
    input.record.recordings[0].channels[0].heading = input.record.recordings[0].notices[0].text = hostile;
    input.record.inputs[0].name = hostile;
    input.record.bench->sensor.name = input.record.bench->calibrations[0].certificate = hostile;
    const std::string page = html_of(input);
    EXPECT_FALSE(holds(page, "<script"));
    EXPECT_FALSE(holds(page, "<img"));
    EXPECT_FALSE(holds(page, "\xE2\x80\xAE")) << "turns the direction of reading";
    EXPECT_FALSE(holds(page, "\x01"));
    EXPECT_FALSE(holds(page, "\xFF"));
    EXPECT_TRUE(holds(page, "&lt;script&gt;alert(&#39;x&#39;)&lt;/script&gt;&quot;&amp;&lt;img"));
}

TEST(ReportPage, FetchesNothingFromAnywhere) {
    const std::string page = html_of(invented_report());
    for (const char* outside :
         {"http:", "https:", "//", "src=", "@import", "url(", "<link", "<script", "<iframe"})
        EXPECT_FALSE(holds(page, outside)) << outside;
}

TEST(ReportPage, IsADraftUntilSomebodyAuthorisesIt) {
    report::ReportInput input = invented_report();
    EXPECT_FALSE(holds(html_of(input), "draft"));
    input.record.order.authorised_by.clear();
    EXPECT_TRUE(holds(html_of(input), "(draft, not issued)"));
}

TEST(ReportPage, SaysWhatIsMissing) {
    report::ReportInput empty;
    empty.record.order.id = "E-1";
    const std::string page = html_of(empty);
    for (const char* words :
         {"The order names no items", "The plan holds no runs", "No flag was raised", "sets no requirement",
          "No bench was stated", "conditions of the test are not recorded", "no budget to show", "not stated",
          "void"})
        EXPECT_TRUE(holds(page, words)) << words;
}

TEST(ReportPage, ComesOutTheSameEveryTime) {
    EXPECT_EQ(html_of(invented_report()), html_of(invented_report()));
}

TEST(ReportPage, OpensAndClosesEveryElement) {
    const std::string page = html_of(invented_report());
    for (const std::string tag : {"table", "tr", "td", "th", "dl", "dt", "dd", "ul", "li", "figure", "svg",
                                  "section", "main", "text", "p", "h2", "span"}) {
        const auto count = [&](const std::string& what) {
            std::size_t n = 0;
            for (auto at = page.find(what); at != std::string::npos; at = page.find(what, at + 1)) ++n;
            return n;
        };
        const std::size_t opened = count("<" + tag + ">") + count("<" + tag + " ");
        EXPECT_GT(opened, 0U) << tag;
        EXPECT_EQ(opened, count("</" + tag + ">")) << tag;
    }
}

}  // namespace
