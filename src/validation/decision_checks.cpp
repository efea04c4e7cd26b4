#include <cmath>

#include "judge/risk.hpp"
#include "validation/checks.hpp"

namespace ebbtide::validation {
namespace {

using judge::probability_beyond;
using judge::probability_within;

/// The measured speed at which, known to a relative 2 %, a limit of 100 is exceeded with 99.9 %.
double surely_too_fast() {
    double low = 100, high = 120;
    for (int i = 0; i < 60; ++i) {
        const double middle = (low + high) / 2;
        (probability_beyond({middle, 0.02 * middle}, {{}, 100.0}) < 0.999 ? low : high) = middle;
    }
    return low;
}

/// Specific risk of accepting a value that lies just at a limit guarded by so many times U, U = 2 u.
double at_guard(double times_U) {
    return probability_beyond({-2 * times_U, 1}, {{}, 0.0});
}

judge::GlobalRisk after_deaver() {
    return judge::global_risk({0, 4}, 1, {-8.0, 8.0}, 0);
}

}  // namespace

std::vector<Check> decision_checks() {
    const char* guide = "JCGM 106:2012, examples (from memory; arithmetic worked out in R)";
    const char* seen = "ILAC-G8:09/2019 (seen in secondary accounts)";
    const char* memory = "ILAC-G8:09/2019, ISO 14253-1:2017 (from memory)";
    const char* suncal = "sandialabs/suncal at d44c2cc1, test_risk";
    const auto check = [](const char* name, const char* source, const char* printed,
                          std::function<Answer()> ours) {
        return Check{"Decisions", name, source, printed, "", std::move(ours)};
    };
    return {
        check("-5.47, u 0.05, upper limit -5.40: probability of conforming", guide, "0.919",
              [] {
                  return probability_within({-5.47, 0.05}, {{}, -5.40});
              }),
        check("the same: probability of not conforming", guide, "0.081",
              [] {
                  return probability_beyond({-5.47, 0.05}, {{}, -5.40});
              }),
        check("13.6, u 1.8, limits 12.5 and 16.3: probability of conforming", guide, "0.663",
              [] {
                  return probability_within({13.6, 1.8}, {12.5, 16.3});
              }),
        check("speed known to 2 %: measured where 100 is exceeded with 99.9 %", guide, "106.6",
              [] { return surely_too_fast(); }),
        check("simple acceptance, value at the limit: wrong acceptance", seen, "0.50",
              [] { return at_guard(0); }),
        check("guard band U, value at its end: wrong acceptance", seen, "0.023", [] { return at_guard(1); }),
        check("guard band 1.5 U: wrong acceptance", memory, "0.0013", [] { return at_guard(1.5); }),
        check("guard band 0.83 U: wrong acceptance", memory, "0.05", [] { return at_guard(0.83); }),
        check("process N(10, 0.4), limits 9 and 11: share outside", suncal, "0.01242",
              [] {
                  return probability_beyond({10, 0.4}, {9.0, 11.0});
              }),
        check("history N(0, 4), u 1, limits -8 and 8: wrongly accepted", suncal, "0.008",
              [] { return after_deaver().consumer; }),
        check("the same: wrongly rejected", suncal, "0.015", [] { return after_deaver().producer; }),
    };
}

}  // namespace ebbtide::validation
