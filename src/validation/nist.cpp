#include "validation/nist.hpp"

#include <algorithm>
#include <sstream>
#include <stdexcept>

#include "basis/number_text.hpp"
#include "validation/nist_files.hpp"

namespace ebbtide::validation {
namespace {

std::vector<std::string> words_of(const std::string& line) {
    std::istringstream rest(line);
    std::vector<std::string> words;
    for (std::string word; rest >> word;) words.push_back(word);
    return words;
}

}  // namespace

CertifiedFit nist(std::string_view name) {
    const auto file = std::ranges::find(nist_files(), name, &NistFile::id);
    if (file == nist_files().end()) throw std::out_of_range("no NIST set " + std::string(name));
    CertifiedFit certified;
    std::istringstream lines{std::string(file->text)};
    int headings = 0;  // the points stand below the second line that begins with "Data:"
    for (std::string line; std::getline(lines, line);) {
        const std::vector<std::string> words = words_of(line);
        if (line.starts_with("Data:")) {
            ++headings;
        } else if (headings == 2 && words.size() == 2) {
            certified.points.y.push_back(parse_number(words[0]).value());
            certified.points.x.push_back(parse_number(words[1]).value());
        } else if (words.size() == 6 && words[0].front() == 'b' && words[1] == "=") {  // two starts between
            certified.b.push_back({words[4], words[5]});
        } else if (line.starts_with("Residual Sum of Squares:")) {
            certified.rss = words.back();
        }
    }
    return certified;
}

}  // namespace ebbtide::validation
