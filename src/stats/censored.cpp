#include "stats/censored.hpp"

#include <fmt/format.h>

#include <cmath>

namespace ebbtide::stats {
namespace {

bool positive(double number) {
    return std::isfinite(number) && number > 0;
}

}  // namespace

Result<Done> check(std::span<const Observation> sample) {
    if (sample.empty())
        return Error{Fault::bad_input, "there are no values", "the lot", "Give one time a specimen"};
    for (std::size_t i = 0; i < sample.size(); ++i) {
        const Observation& one = sample[i];
        const std::string where = fmt::format("value {}", i + 1);
        if (!positive(one.value))
            return Error{Fault::bad_input, fmt::format("{} is no time above zero", one.value), where,
                         "Give seconds above zero"};
        if (one.known == Known::between && !(std::isfinite(one.upper) && one.upper > one.value))
            return Error{
                Fault::bad_input,
                fmt::format("the upper bound {} is not above the lower one {}", one.upper, one.value), where,
                "Give the lower bound first, both in seconds"};
        if (!positive(one.count))
            return Error{Fault::bad_input, fmt::format("{} is no number of specimens", one.count), where,
                         "Give a count above zero"};
    }
    return Done{};
}

double count_of(std::span<const Observation> sample) {
    double count = 0;
    for (const Observation& one : sample) count += one.count;
    return count;
}

}  // namespace ebbtide::stats
