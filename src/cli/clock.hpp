#pragma once
// The two times that commands state.

#include <cstdlib>
#include <ctime>

#include "work/this_computer.hpp"

namespace ebbtide::cli {

/// Of a record: now, or the time that SOURCE_DATE_EPOCH states, so that a report can be made again byte for
/// byte.
[[nodiscard]] inline Instant time_of_making() {
    if (const char* stated = std::getenv("SOURCE_DATE_EPOCH"))
        if (const long long seconds = std::strtoll(stated, nullptr, 10);
            seconds > 0 && seconds < 9'000'000'000)
            return {seconds * 1'000'000'000};
    return {static_cast<std::int64_t>(std::time(nullptr)) * 1'000'000'000};
}

/// Of what is written in a ledger, whatever SOURCE_DATE_EPOCH states: it says when that was.
[[nodiscard]] inline Instant time_of_writing() {
    return work::time_now();
}

}  // namespace ebbtide::cli
