#include "judge/bench_standing.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "basis/number_text.hpp"

namespace ebbtide::judge {
namespace {

using Kind = plan::BenchCheck::Kind;

struct Around {
    const plan::BenchCheck* opening = nullptr;    ///< the last before
    const plan::BenchCheck* closing = nullptr;    ///< the first after it, before another opening
    const plan::BenchCheck* override_ = nullptr;  ///< given after that opening, before the run
};

Around around(std::span<const plan::BenchCheck> checks, Instant at) {
    Around found;
    for (const plan::BenchCheck& check : checks) {
        if (check.at <= at) {
            if (check.kind == Kind::opening) found.opening = &check, found.override_ = nullptr;
            // A closing check that ends the day ends what its opening stands for.
            if (check.kind == Kind::closing) found.opening = check.good ? found.opening : &check;
            if (check.kind == Kind::override_) found.override_ = &check;
        } else if (check.kind == Kind::opening) {
            break;
        } else if (check.kind == Kind::closing) {
            found.closing = &check;
            break;
        }
    }
    return found;
}

double age_h(const plan::BenchCheck& check, Instant at) {
    return (at - check.at).seconds() / 3600;
}

std::string with_override(std::string text, const plan::BenchCheck* given) {
    if (given) text += fmt::format(" {} let work start: {}.", given->who, given->reason);
    return text;
}

/// Why what was done at `at` rests on no good opening check; empty where it does.
std::string want_of_check(const Around& found, const plan::CheckLimits& limits, Instant at) {
    if (!found.opening) return "no opening check of this bench is on record";
    if (!found.opening->good)
        return fmt::format("the check of {} failed: {}", iso_text(found.opening->at), found.opening->reason);
    const double age = age_h(*found.opening, at);
    if (age > limits.valid_h)
        return fmt::format("the opening check of {} is {} h old and holds for {} h",
                           iso_text(found.opening->at), fixed_text(age, 1), shortest_text(limits.valid_h));
    return "";
}

}  // namespace

std::string reason_not_to_start(std::span<const plan::BenchCheck> checks, const plan::CheckLimits& limits,
                                Instant now) {
    std::string reason = want_of_check(around(checks, now), limits, now);
    const auto ahead = std::ranges::find_if(
        checks, [&](const plan::BenchCheck& check) { return check.kind == Kind::opening && check.at > now; });
    if (!reason.empty() && ahead != checks.end())
        reason += fmt::format(
            "; that of {} lies ahead of now and does not count: this computer's clock is slow, or a "
            "simulated bench ran ahead of it",
            iso_text(ahead->at));
    return reason;
}

std::vector<plan::Flag> standing_flags(std::span<const plan::BenchCheck> checks,
                                       const plan::CheckLimits& limits, Instant at) {
    std::vector<plan::Flag> flags;
    const Around found = around(checks, at);
    if (const std::string reason = want_of_check(found, limits, at); !reason.empty()) {
        std::string text = reason;
        text[0] = static_cast<char>(text[0] - 'a' + 'A');
        const bool failed = found.opening && !found.opening->good;
        flags.emplace_back(failed ? plan::FlagCode::bench_check_failed : plan::FlagCode::bench_check_stale,
                           with_override(text + ".", found.override_));
        // Somebody answers for it by name; without that a failed check voids.
        if (found.override_) flags.back().consequence = plan::Consequence::warn;
    }
    if (found.closing && !found.closing->good)
        flags.emplace_back(plan::FlagCode::bench_check_held,
                           fmt::format("The closing check of {} failed: {}.", iso_text(found.closing->at),
                                       found.closing->reason));
    return flags;
}

}  // namespace ebbtide::judge
