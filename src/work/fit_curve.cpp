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

}  // namespace

Result<fit::CurveStore> parse_pairs(std::string_view text, const std::string& file) {
    fit::CurveStore out;
    std::size_t number = 0;
    bool headings = false;
    while (!text.empty()) {
        const std::size_t end = std::min(text.find('\n'), text.size());
        const std::vector<std::string_view> cells = cells_of(text.substr(0, end));
        text.remove_prefix(std::min(end + 1, text.size()));
        ++number;
        if (cells.empty() || cells.front().starts_with('#')) continue;
        const auto x = cells.size() == 2 ? parse_number(cells[0]) : std::nullopt;
        const auto y = cells.size() == 2 ? parse_number(cells[1]) : std::nullopt;
        if (x && y) {
            out.x.push_back(*x);
            out.y.push_back(*y);
        } else if (out.x.empty() && !headings && !parse_number(cells.front())) {
            headings = true;
        } else {
            return Error{Fault::bad_input, "not two numbers", fmt::format("{} line {}", file, number),
                         "Write seconds and volts, with a decimal point, and nothing else on the line"};
        }
    }
    if (out.x.empty())
        return Error{Fault::bad_input, "no pairs of numbers", file,
                     "Write seconds and volts, one pair a line"};
    return out;
}

Result<decay::LawChoice> fit_pairs(const std::string& file, const FitRequest& request) {
    const auto text = read_whole(file, most_bytes);
    if (!text) return text.error();
    const auto curve = parse_pairs(*text, file);
    if (!curve) return curve.error();
    decay::LawChoice choice =
        decay::choose_law(curve->view(), request.kinds, request.offset, fit::Scatter::correlated_residuals);
    for (const decay::LawModel& model : choice.models)
        if (!model.fit.parameters.empty()) return choice;
    const fit::Fit& first = choice.models.front().fit;
    return Error{Fault::bad_input, fmt::format("no law can be fitted: {}", first.reason), file,
                 first.outcome == fit::Outcome::too_few_samples
                     ? "Record longer, or ask for a law with fewer parts"
                     : "Check the numbers, or ask for another law"};
}

}  // namespace ebbtide::work
