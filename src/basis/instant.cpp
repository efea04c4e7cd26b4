#include "basis/instant.hpp"

#include <fmt/format.h>

#include <charconv>
#include <chrono>
#include <cmath>
#include <limits>

namespace ebbtide {
namespace {

constexpr std::int64_t ns_per_second = 1'000'000'000;
constexpr std::int64_t ns_per_day = 86'400 * ns_per_second;

Error not_a_time(std::string_view text, std::string remedy) {
    return {Fault::bad_input, fmt::format("'{}' is not a time", text), "", std::move(remedy)};
}

/// Reads exactly `width` digits at the front and drops them.
bool take_digits(std::string_view& text, std::size_t width, int& value) {
    if (text.size() < width) return false;
    const auto [end, error] = std::from_chars(text.data(), text.data() + width, value);
    if (error != std::errc{} || end != text.data() + width || text[0] == '-') return false;
    text.remove_prefix(width);
    return true;
}

bool take(std::string_view& text, char c) {
    if (text.empty() || text[0] != c) return false;
    text.remove_prefix(1);
    return true;
}

bool take_date(std::string_view& text, Date& date) {
    if (!(take_digits(text, 4, date.year) && take(text, '-') && take_digits(text, 2, date.month) &&
          take(text, '-') && take_digits(text, 2, date.day)))
        return false;
    using namespace std::chrono;
    const year_month_day calendar{year{date.year}, month{static_cast<unsigned>(date.month)},
                                  day{static_cast<unsigned>(date.day)}};
    return calendar.ok() && date.year >= 1678 && date.year <= 2261;
}

}  // namespace

Span Span::from_seconds(double seconds) {
    constexpr double limit = 9.2e9;
    if (!(std::abs(seconds) < limit)) throw std::out_of_range("Span::from_seconds: beyond 292 years");
    return {static_cast<std::int64_t>(std::llround(seconds * 1e9))};
}

Instant start_of(Date date) {
    using namespace std::chrono;
    const sys_days days{year_month_day{year{date.year}, month{static_cast<unsigned>(date.month)},
                                       day{static_cast<unsigned>(date.day)}}};
    return {days.time_since_epoch().count() * ns_per_day};
}

Date date_of(Instant instant) {
    using namespace std::chrono;
    const year_month_day ymd{floor<days>(sys_time<nanoseconds>{nanoseconds{instant.ns}})};
    return {static_cast<int>(ymd.year()), static_cast<int>(static_cast<unsigned>(ymd.month())),
            static_cast<int>(static_cast<unsigned>(ymd.day()))};
}

std::string iso_text(Date date) {
    return fmt::format("{:04}-{:02}-{:02}", date.year, date.month, date.day);
}

std::string iso_text(Instant instant) {
    const Date date = date_of(instant);
    const std::int64_t in_day = instant.ns - start_of(date).ns;
    const std::int64_t s = in_day / ns_per_second;
    std::string out = fmt::format("{}T{:02}:{:02}:{:02}", iso_text(date), s / 3600, s / 60 % 60, s % 60);
    if (const std::int64_t fraction = in_day % ns_per_second; fraction != 0) {
        std::string digits = fmt::format("{:09}", fraction);
        digits.erase(digits.find_last_not_of('0') + 1);
        out += '.' + digits;
    }
    return out + 'Z';
}

Result<Date> parse_date(std::string_view text) {
    std::string_view rest = text;
    Date date;
    if (!take_date(rest, date) || !rest.empty())
        return Error{Fault::bad_input, fmt::format("'{}' is not a date", text), "",
                     "Write year-month-day, for instance 2026-03-14"};
    return date;
}

Result<Instant> parse_instant(std::string_view text) {
    const std::string remedy = "Write for instance 2026-03-14T09:26:53Z or 2026-03-14T10:26:53+01:00";
    std::string_view rest = text;
    Date date;
    int hour = 0, minute = 0, second = 0;
    if (!take_date(rest, date) || !(take(rest, 'T') || take(rest, ' ')) || !take_digits(rest, 2, hour) ||
        !take(rest, ':') || !take_digits(rest, 2, minute) || !take(rest, ':') ||
        !take_digits(rest, 2, second) || hour > 23 || minute > 59 || second > 60)
        return not_a_time(text, remedy);
    std::int64_t fraction_ns = 0;
    if (take(rest, '.')) {
        std::int64_t place = ns_per_second / 10;
        if (rest.empty() || rest[0] < '0' || rest[0] > '9') return not_a_time(text, remedy);
        for (; !rest.empty() && rest[0] >= '0' && rest[0] <= '9'; rest.remove_prefix(1), place /= 10)
            fraction_ns += place * (rest[0] - '0');
    }
    std::int64_t offset_minutes = 0;
    if (!take(rest, 'Z')) {
        if (rest.empty() || (rest[0] != '+' && rest[0] != '-'))
            return not_a_time(text, "Say the zone: " + remedy);
        const int sign = rest[0] == '-' ? -1 : 1;
        rest.remove_prefix(1);
        int hours = 0, minutes = 0;
        if (!take_digits(rest, 2, hours) || !take(rest, ':') || !take_digits(rest, 2, minutes) ||
            hours > 14 || minutes > 59)
            return not_a_time(text, remedy);
        offset_minutes = sign * (hours * 60 + minutes);
    }
    if (!rest.empty()) return not_a_time(text, remedy);
    const std::int64_t seconds = hour * 3600 + minute * 60 + second - offset_minutes * 60;
    return Instant{start_of(date).ns + seconds * ns_per_second + fraction_ns};
}

}  // namespace ebbtide
