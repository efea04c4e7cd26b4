#include "recording/record_order.hpp"

#include <fmt/format.h>

#include <algorithm>

namespace ebbtide::recording::container {
namespace {

constexpr std::size_t gaps_most = 1024;

}  // namespace

std::string grouped(std::uint64_t number) {
    const std::string digits = std::to_string(number);
    std::string text;
    for (std::size_t i = 0; i < digits.size(); ++i) {
        if (i > 0 && (digits.size() - i) % 3 == 0) text += ',';
        text += digits[i];
    }
    return text;
}

std::string bytes_text(std::uint64_t from, std::uint64_t end) {
    return end - from == 1 ? fmt::format("byte {}", grouped(from))
                           : fmt::format("bytes {} to {}", grouped(from), grouped(end - 1));
}

RecordOrder::Verdict RecordOrder::take(std::uint64_t number, std::uint64_t begin) {
    const bool follows = number == last_ + 1;
    if (number >= expected_) {
        Verdict verdict{follows ? Place::next : Place::breaks, ""};
        if (number > expected_) {
            verdict.text = number - expected_ == 1 ? fmt::format("record {} is missing", grouped(expected_))
                                                   : fmt::format("records {} to {} are missing",
                                                                 grouped(expected_), grouped(number - 1));
            verdict.text += fmt::format(" before byte {}", grouped(begin));
            if (missing_.size() == gaps_most) missing_.erase(missing_.begin());
            missing_.emplace_back(expected_, number - 1);
        } else if (!follows) {
            verdict.text = fmt::format("record {} follows record {} at byte {}", grouped(number),
                                       grouped(last_), grouped(begin));
        }
        expected_ = number + 1;
        last_ = number;
        return verdict;
    }
    const auto gap = std::ranges::find_if(
        missing_, [&](const auto& range) { return range.first <= number && number <= range.second; });
    if (gap == missing_.end()) return {Place::repeated, ""};
    const auto [first, last] = *gap;
    missing_.erase(gap);
    if (first < number) missing_.emplace_back(first, number - 1);
    if (number < last) missing_.emplace_back(number + 1, last);
    Verdict verdict;
    if (!follows)
        verdict = {Place::breaks, fmt::format("record {} follows record {} at byte {}", grouped(number),
                                              grouped(last_), grouped(begin))};
    last_ = number;
    return verdict;
}

}  // namespace ebbtide::recording::container
