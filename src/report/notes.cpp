#include <fmt/format.h>

#include <algorithm>

#include "report/chapters.hpp"
#include "report/words.hpp"

namespace ebbtide::report {
namespace {

void add_list(std::vector<Block>& blocks, const std::string& heading, const std::vector<std::string>& items,
              const std::string& when_empty, const Clause& clause) {
    if (items.empty()) {
        blocks.emplace_back(Paragraph{heading + ": " + when_empty, Paragraph::Look::body, clause});
        return;
    }
    blocks.emplace_back(Paragraph{heading + ":", Paragraph::Look::body, ""});
    blocks.emplace_back(Bullets{items, clause});
}

/// From where a decay time counts.
std::string start_of(const plan::DecayRules& rules) {
    if (rules.from)
        return fmt::format("from where the fall passes {}{}", rules.from->label(),
                           rules.from->kind == plan::Level::Kind::fraction ? " of V0" : "");
    return rules.clock == plan::DecayRules::Clock::field_step ? "from the step of the field electrode"
                                                              : "from the release of the clamps";
}

}  // namespace

void add_notes(Document& document, const ReportInput& input) {
    const record::OrderRecord& record = input.record;
    auto& blocks = document.blocks;
    blocks.emplace_back(Heading{"Notes"});
    blocks.emplace_back(
        Paragraph{"The results relate only to the items tested, as they were received. This report must not "
                  "be reproduced "
                  "except in full without the approval of the laboratory.",
                  Paragraph::Look::body, "7.8.2.1 l"});
    add_list(blocks, "Additions to, deviations or exclusions from the method", record.order.deviations,
             "none.", "7.8.2.1 n");
    add_list(blocks, "Results from external providers", record.order.external_providers, "none.",
             "7.8.2.1 p");
    if (!record.order.opinions.empty())
        add_list(blocks, "Opinions and interpretations", record.order.opinions, "", "7.8.7");
    if (!record.judgement.cautions.empty())
        add_list(blocks, "What these figures do not prove", record.judgement.cautions, "", "7.8.6.1");

    blocks.emplace_back(Heading{"How to read the figures"});
    Facts glossary;
    glossary.rows = {
        {"0.512(31) s",
         "0.512 s ± 0.031 s, where 0.031 s is the standard uncertainty (one standard deviation).", ""},
        {"U at 95 %",
         "expanded uncertainty U = k u: the value lies within ± U with a probability of about 95 %.", ""},
        {"t(10 %)",
         fmt::format("decay time: {} until the voltage has fallen to 10 % of V0 and stays at or below it.",
                     start_of(record.method.decay)),
         ""},
        {"V0", "initial voltage: where the decay starts, by the basis that the method states.", ""},
        {"> 5.00",
         "a bound: the level was not reached within the record. It never enters a mean as a number that "
         "passes.",
         ""},
        {"< 0.0200", "a bound: the fall was faster than the bench resolves.", ""},
        {"spread", "standard deviation between runs or specimens; no part of U.", ""}};
    const auto& runs = record.judgement.runs;
    const auto any_law = [&](auto&& asked) {
        return std::ranges::any_of(runs, [&](const judge::JudgedRun& run) {
            return run.figures && run.figures->law && asked(*run.figures->law);
        });
    };
    if (any_law([](const decay::LawFigures&) { return true; }))
        glossary.rows.push_back(
            {"law, AICc",
             "a curve of few numbers that the fall may follow; Akaike's criterion, which weighs how well it "
             "fits against how many numbers it takes. The lowest is chosen.",
             ""});
    if (any_law([](const decay::LawFigures& law) { return !law.extrapolated.empty(); }))
        glossary.rows.push_back(
            {"≈ 5.1 (4.2 to 7.0)",
             "extrapolated: not measured, but said by the laws that fit the record, with the "
             "ends of the 95 % interval; \"never\" where a law may stay above the level.",
             ""});
    if (record.order.decision_rule.kind == plan::DecisionRule::Kind::guarded)
        glossary.rows.push_back(
            {"guard band w",
             "margin on either side of a limit, agreed as part of the decision rule: a result "
             "within it is on the stated side of the limit, but too close to pass or fail outright.",
             ""});
    glossary.rows.push_back(
        {"wrong acceptance, wrong rejection",
         "chance that the true value lies on the other side of the limit than the result says.", ""});
    blocks.emplace_back(std::move(glossary));

    blocks.emplace_back(Heading{"Cautions"});
    blocks.emplace_back(
        Paragraph{"The test uses kilovolts, and a specimen stays charged after the clamps are earthed: a "
                  "long decay time means "
                  "a long-lived charge. Earth a specimen and its fixture before touching them. Whoever "
                  "repeats the test follows "
                  "local codes and the people licensed to work on such equipment; neither this report nor "
                  "the program that made "
                  "it is a safety barrier.",
                  Paragraph::Look::body, ""});
}

}  // namespace ebbtide::report
