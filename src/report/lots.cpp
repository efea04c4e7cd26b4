#include "report/lot_statement.hpp"

namespace ebbtide::report {
namespace {

constexpr double lot_plot_width = 440;

Statement claim_of(const LotStatement& lot) {
    Statement out;
    out.clause = "";
    out.word = lot.word;
    out.conformity = lot.mark;
    out.said_of = lot.said_of;
    out.reasons = lot.reasons;
    return out;
}

void add_lot_chapter(Document& document, const LotStatement& lot) {
    document.blocks.emplace_back(Heading{lot.group.empty() ? "The lot" : "The lot: " + lot.group});
    if (!lot.plain_words.empty())
        document.blocks.emplace_back(Paragraph{lot.plain_words, Paragraph::Look::body, "7.8.3.1 b"});
    document.blocks.emplace_back(claim_of(lot));
    if (!lot.sentence.empty()) {
        Facts facts;
        facts.rows = {{"Requirement", lot.sentence, ""},
                      {"Sampling", lot.sampling.empty() ? "no plan stated" : lot.sampling, "7.8.2.1 k"}};
        document.blocks.emplace_back(std::move(facts));
    }
    document.blocks.emplace_back(FigureRow{{probability_picture(lot, lot_plot_width)}, true});
    document.blocks.emplace_back(Paragraph{
        "Each disc is a specimen; an open one with a line to the right did not reach the level and takes "
        "longer; a bar is known between two bounds. Specimens of a lognormal lot lie along a straight line.",
        Paragraph::Look::note, ""});
    for (const Table& table : lot.tables) document.blocks.emplace_back(table);
    if (const auto operating = operating_picture(lot, lot_plot_width)) {
        document.blocks.emplace_back(FigureRow{{*operating}, true});
        document.blocks.emplace_back(Paragraph{
            "How surely a test of so many specimens shows the claim, against how much of a lot is over "
            "the limit. Dashed: the share that the claim allows; a lot just so good is hardly ever "
            "shown, and only one well to the left of it is shown as a rule.",
            Paragraph::Look::note, ""});
    }
    document.blocks.emplace_back(Paragraph{"What this does not prove:", Paragraph::Look::body, ""});
    document.blocks.emplace_back(Bullets{lot.cautions, ""});
}

}  // namespace

Picture probability_picture(const LotStatement& lot, double width) {
    return probability_plot(lot.sample, lot.lognormal, lot.limit_s, lot.bound, width);
}

std::optional<Picture> operating_picture(const LotStatement& lot, double width) {
    if (!lot.operating) return {};
    std::vector<double> marked;
    if (lot.claimed_beyond) marked.push_back(*lot.claimed_beyond);
    return oc_plot(std::span(&*lot.operating, 1), marked, width);
}

void add_lots(Document& document, std::span<const LotStatement> lots) {
    for (const LotStatement& lot : lots) add_lot_chapter(document, lot);
}

}  // namespace ebbtide::report
