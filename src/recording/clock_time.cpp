#include "recording/clock_time.hpp"

#include <cmath>
#include <optional>

#include "basis/instant.hpp"

namespace ebbtide::recording {

namespace {

constexpr std::int64_t ns_per_day = 86'400'000'000'000;

bool is_digit(char c) {
    return c >= '0' && c <= '9';
}

std::optional<int> take_number(std::string_view& text, std::size_t most_digits) {
    int number = 0;
    std::size_t count = 0;
    for (; count < text.size() && count < most_digits && is_digit(text[count]); ++count)
        number = number * 10 + (text[count] - '0');
    if (count == 0) return std::nullopt;
    text.remove_prefix(count);
    return number;
}

bool take(std::string_view& text, char c) {
    if (text.empty() || text[0] != c) return false;
    text.remove_prefix(1);
    return true;
}

void trim(std::string_view& text) {
    while (!text.empty() && (text.front() == ' ' || text.front() == '"')) text.remove_prefix(1);
    while (!text.empty() && (text.back() == ' ' || text.back() == '"')) text.remove_suffix(1);
}

// "2026-03-14", "2026/03/14", "14.03.2026", "3/14/2026"; leaves `text` behind the date.
bool take_date(std::string_view& text, ClockTime& clock) {
    std::string_view rest = text;
    const auto first = take_number(rest, 4);
    const std::size_t first_width = text.size() - rest.size();
    if (!first || rest.empty()) return false;
    const char separator = rest[0];
    if (separator != '-' && separator != '/' && separator != '.') return false;
    rest.remove_prefix(1);
    const auto second = take_number(rest, 2);
    if (!second || !take(rest, separator)) return false;
    const std::string_view before_third = rest;
    const auto third = take_number(rest, 4);
    if (!third) return false;
    const std::size_t third_width = before_third.size() - rest.size();
    Date date;
    if (first_width == 4 && third_width <= 2) {
        date = {*first, *second, *third};
    } else if (first_width <= 2 && third_width == 4 && separator == '.') {
        date = {*third, *second, *first};
    } else if (first_width <= 2 && third_width == 4 && separator == '/') {
        if (*first < 1 || *second < 1 || *first > 31 || *second > 31) return false;
        text = rest;
        return true;
    } else {
        return false;
    }
    // The calendar check is that of ISO dates.
    if (!parse_date(iso_text(date)).ok()) return false;
    clock.day = start_of(date).ns / ns_per_day;
    if (start_of(date).ns < 0) return false;  // no logger kept time before 1970
    text = rest;
    return true;
}

bool take_time(std::string_view& text, ClockTime& clock) {
    std::string_view rest = text;
    const auto hour = take_number(rest, 2);
    if (!hour || !take(rest, ':')) return false;
    const std::string_view minute_text = rest;
    const auto minute = take_number(rest, 2);
    if (!minute || minute_text.size() - rest.size() != 2 || !take(rest, ':')) return false;
    const auto second = take_number(rest, 2);
    if (!second || *hour > 23 || *minute > 59 || *second > 60) return false;
    double whole = *hour * 3600 + *minute * 60 + *second;
    if (rest.size() > 1 && (rest[0] == '.' || rest[0] == ',' || rest[0] == ':') && is_digit(rest[1])) {
        rest.remove_prefix(1);
        std::int64_t fraction = 0;
        double unit = 1;
        for (int place = 0; !rest.empty() && is_digit(rest[0]); rest.remove_prefix(1), ++place) {
            if (place >= 15) continue;
            fraction = fraction * 10 + (rest[0] - '0');
            unit *= 10;
        }
        whole += static_cast<double>(fraction) / unit;
    }
    std::string_view half = rest;
    while (!half.empty() && half[0] == ' ') half.remove_prefix(1);
    if (half.size() == 2 && (half[1] == 'M' || half[1] == 'm') && *hour >= 1 && *hour <= 12) {
        const bool afternoon = half[0] == 'P' || half[0] == 'p';
        if (!afternoon && half[0] != 'A' && half[0] != 'a') return false;
        whole += (afternoon ? 12 : 0) * 3600 - (*hour == 12 ? 12 * 3600 : 0);
        rest = {};
    }
    clock.second_of_day = whole;
    clock.has_time = true;
    text = rest;
    return true;
}

bool take_zone(std::string_view& text, ClockTime& clock) {
    if (take(text, 'Z')) {
        clock.zone_minutes = 0;
        return true;
    }
    if (text.size() < 3 || (text[0] != '+' && text[0] != '-')) return false;
    const int sign = text[0] == '-' ? -1 : 1;
    text.remove_prefix(1);
    const auto hours = take_number(text, 2);
    take(text, ':');
    const auto minutes = take_number(text, 2);
    if (!hours || *hours > 14 || minutes.value_or(0) > 59) return false;
    clock.zone_minutes = sign * (*hours * 60 + minutes.value_or(0));
    return true;
}

}  // namespace

std::optional<ClockTime> read_clock_time(std::string_view cell) {
    trim(cell);
    ClockTime clock;
    if (cell.size() < 5 || cell.size() > 64 || !is_digit(cell[0])) return std::nullopt;
    const bool dated = take_date(cell, clock);
    if (dated && cell.empty()) return clock;
    if (dated && !take(cell, 'T')) {
        if (!take(cell, ' ')) return std::nullopt;
        while (take(cell, ' ')) {
        }
    }
    if (!take_time(cell, clock)) return std::nullopt;
    if (dated && !cell.empty()) {
        take(cell, ' ');
        if (!take_zone(cell, clock)) return std::nullopt;
    }
    if (!cell.empty()) return std::nullopt;
    return clock;
}

}  // namespace ebbtide::recording
