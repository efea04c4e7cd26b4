#include "work/fit_curve.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "basis/number_text.hpp"
#include "work/order_files.hpp"

namespace ebbtide::work {
namespace {

constexpr std::uint64_t most_bytes = std::uint64_t{1} << 30;

/// The cells of a line between commas, semicolons, tabs and spaces.
std::vector<std::string_view> cells_of(std::string_view line) {
    constexpr std::string_view between = ",; \t\r";
    std::vector<std::string_view> out;
    for (std::size_t at = line.find_first_not_of(between); at != std::string_view::npos;) {
        const std::size_t end = std::min(line.find_first_of(between, at), line.size());
        out.push_back(line.substr(at, end - at));
        at = line.find_first_not_of(between, end);
    }
    return out;
}

Error wrong_line(const std::string& file, std::size_t number, SigmaColumn sigma, std::size_t cells) {
    const std::string where = fmt::format("{} line {}", file, number);
    if (sigma == SigmaColumn::none && cells == 3)
        return {Fault::bad_input,
                "three numbers, and nobody said what the third is: standard errors depend on it", where,
                "Say --sigma absolute when it is the standard deviation of the voltage in volts, --sigma "
                "relative when only its proportions are known"};
    if (sigma == SigmaColumn::none)
        return {Fault::bad_input, "not two numbers", where,
                "Write seconds and volts, with a decimal point, and nothing else on the line"};
    return {Fault::bad_input, "not three numbers, the third above zero", where,
            "Write seconds, volts and sigma, with a decimal point, or leave --sigma away"};
}

}  // namespace

Result<fit::CurveStore> parse_pairs(std::string_view text, const std::string& file, SigmaColumn sigma) {
    const std::size_t columns = sigma == SigmaColumn::none ? 2 : 3;
    fit::CurveStore out;
    std::size_t number = 0;
    bool headings = false;
    while (!text.empty()) {
        const std::size_t end = std::min(text.find('\n'), text.size());
        const std::vector<std::string_view> cells = cells_of(text.substr(0, end));
        text.remove_prefix(std::min(end + 1, text.size()));
        ++number;
        if (cells.empty() || cells.front().starts_with('#')) continue;
        std::vector<double> numbers;
        for (const std::string_view cell : cells)
            if (const auto value = parse_number(cell)) numbers.push_back(*value);
        const bool all = numbers.size() == cells.size();
        if (all && numbers.size() == columns && (columns == 2 || numbers[2] > 0)) {
            out.x.push_back(numbers[0]);
            out.y.push_back(numbers[1]);
            if (columns == 3) out.sigma.push_back(numbers[2]);
        } else if (out.x.empty() && !headings && !parse_number(cells.front())) {
            headings = true;
        } else {
            return wrong_line(file, number, sigma, all ? cells.size() : 0);
        }
    }
    if (out.x.empty())
        return Error{Fault::bad_input, "no pairs of numbers", file,
                     "Write seconds and volts, one pair a line"};
    return out;
}

Result<decay::LawFigures> fit_pairs(const std::string& file, const FitRequest& request) {
    const auto text = read_whole(file, most_bytes);
    if (!text) return text.error();
    const auto curve = parse_pairs(*text, file, request.sigma);
    if (!curve) return curve.error();
    const fit::Scatter scatter =
        request.sigma == SigmaColumn::absolute ? fit::Scatter::stated : fit::Scatter::correlated_residuals;
    decay::LawFigures law = decay::law_figures_of(curve->view(), request.levels, request.question, scatter);
    for (const decay::LawCandidate& candidate : law.candidates)
        if (!candidate.parameters.empty()) return law;
    const bool few =
        !law.candidates.empty() && law.candidates.front().outcome == fit::Outcome::too_few_samples;
    const std::string reason = !law.missing.empty()      ? law.missing
                               : !law.candidates.empty() ? law.candidates.front().reason
                                                         : "there are no candidates";
    return Error{Fault::bad_input, fmt::format("no law can be fitted: {}", reason), file,
                 few ? "Record longer, or ask for a law with fewer parts"
                     : "Check the numbers, or ask for another law"};
}

}  // namespace ebbtide::work
