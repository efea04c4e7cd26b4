#include <fmt/format.h>

#include <algorithm>

#include "report/chapters.hpp"
#include "report/words.hpp"

namespace ebbtide::report {
namespace {

std::string letter_of(std::size_t index) {
    std::string text;
    for (std::size_t rest = index + 1; rest > 0; rest = (rest - 1) / 26)
        text.insert(text.begin(), static_cast<char>('a' + (rest - 1) % 26));
    return text;
}

struct Seen {
    std::string message;
    std::vector<std::string> runs;
};

std::string joined(const std::vector<std::string>& texts) {
    std::string out;
    for (const std::string& text : texts) out += (out.empty() ? "" : "\n") + text;
    return out;
}

}  // namespace

FlagLetters flag_letters(const judge::Judgement& judgement) {
    std::map<plan::FlagCode, plan::Consequence> gravest;
    for (const judge::JudgedRun& run : judgement.runs)
        for (const plan::Flag& flag : run.flags) {
            const auto [at, fresh] = gravest.emplace(flag.code, flag.consequence);
            if (!fresh) at->second = std::max(at->second, flag.consequence);
        }
    FlagLetters letters;
    for (const auto& [code, consequence] : gravest) letters.codes.push_back(code);
    std::ranges::stable_sort(letters.codes, std::greater{},
                             [&](plan::FlagCode code) { return gravest.at(code); });
    for (std::size_t i = 0; i < letters.codes.size(); ++i) letters.letter[letters.codes[i]] = letter_of(i);
    return letters;
}

void add_flags(Document& document, const ReportInput& input) {
    const judge::Judgement& judgement = input.record.judgement;
    const FlagLetters letters = flag_letters(judgement);
    auto& blocks = document.blocks;
    blocks.emplace_back(Heading{"Flags"});
    if (letters.codes.empty()) {
        blocks.emplace_back(Paragraph{"No flag was raised.", Paragraph::Look::body, ""});
        return;
    }
    Table table;
    table.columns = {
        {""}, {"flag"}, {"what it means, and what follows"}, {"what was seen"}, {"runs", one_line}};
    for (const plan::FlagCode code : letters.codes) {
        std::vector<Seen> seen;
        plan::Consequence consequence = plan::Consequence::note;
        for (const judge::JudgedRun& run : judgement.runs)
            for (const plan::Flag& flag : run.flags) {
                if (flag.code != code) continue;
                consequence = std::max(consequence, flag.consequence);
                auto found = std::ranges::find(seen, flag.message, &Seen::message);
                if (found == seen.end()) found = seen.insert(seen.end(), {flag.message, {}});
                found->runs.push_back(run.key.label());
            }
        for (std::size_t i = 0; i < seen.size(); ++i) {
            const bool first = i == 0;
            table.rows.push_back(
                {Cell{first ? letters.letter.at(code) : "", {}, false, true},
                 Cell{first ? words_for(code) : "", {}, false, true},
                 Cell{first ? fmt::format("{} {}", plan::facts(code).meaning, words_for(consequence)) : "",
                      {},
                      false,
                      false},
                 Cell{seen[i].message, {}, false, false}, Cell{joined(seen[i].runs), {}, true, false}});
        }
    }
    blocks.emplace_back(std::move(table));
}

}  // namespace ebbtide::report
