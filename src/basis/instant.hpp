#pragma once
// An instant and a span are different types: what must not compile does not.

#include <compare>
#include <cstdint>
#include <string>
#include <string_view>

#include "basis/result.hpp"

namespace ebbtide {

/// A length of time in nanoseconds.
struct Span {
    std::int64_t ns = 0;
    [[nodiscard]] static Span from_seconds(double seconds);
    [[nodiscard]] double seconds() const { return static_cast<double>(ns) * 1e-9; }
    auto operator<=>(const Span&) const = default;
};

/// A point in time, nanoseconds since 1970-01-01T00:00:00Z (range: years 1678 to 2261).
struct Instant {
    std::int64_t ns = 0;
    auto operator<=>(const Instant&) const = default;
};

inline Span operator-(Instant a, Instant b) {
    return {a.ns - b.ns};
}
inline Instant operator+(Instant a, Span b) {
    return {a.ns + b.ns};
}

/// A day of the calendar, as it stands on certificates and orders.
struct Date {
    int year = 0;
    int month = 0;
    int day = 0;
    auto operator<=>(const Date&) const = default;
};

/// "2026-03-14T09:26:53Z"; fractions of a second are written only when there are any.
[[nodiscard]] std::string iso_text(Instant instant);
/// "2026-03-14".
[[nodiscard]] std::string iso_text(Date date);

/// Reads "2026-03-14T09:26:53Z", with fraction or with an offset "+02:00". A time without a zone is refused:
/// it names no instant.
[[nodiscard]] Result<Instant> parse_instant(std::string_view text);
/// Reads "2026-03-14"; days that the calendar does not have are refused.
[[nodiscard]] Result<Date> parse_date(std::string_view text);

/// Midnight UTC at the start of the day.
[[nodiscard]] Instant start_of(Date date);
/// The UTC day that holds the instant.
[[nodiscard]] Date date_of(Instant instant);

}  // namespace ebbtide
