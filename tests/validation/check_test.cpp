// All published checks agree on this computer, and a wrong figure is found.

#include "validation/check.hpp"

#include <fmt/format.h>
#include <gtest/gtest.h>

#include <algorithm>
#include <cmath>
#include <set>
#include <stdexcept>

#include "validation/checks.hpp"
#include "validation/nist.hpp"

namespace ebbtide::validation {
namespace {

std::vector<Check> all() {
    std::vector<Check> checks;
    for (const auto list :
         {decay_checks, sheet_checks, fit_checks, uncertainty_checks, decision_checks, arithmetic_checks})
        for (Check& check : list()) checks.push_back(std::move(check));
    return checks;
}

/// The same check with another printed figure, just too far from the right one to agree with ours.
Check with_wrong_figure(Check check) {
    const Checked right = run(check);
    if (!std::holds_alternative<double>(right.ours)) {
        check.printed.back() = check.printed.back() == '0' ? '1' : '0';
        return check;
    }
    const double wrong = std::stod(check.printed) + 2 * right.allowed + last_digit_of(check.printed);
    const std::size_t exponent = check.printed.find_first_of("eE"), point = check.printed.find('.');
    const std::size_t places =
        point == std::string::npos ? 0 : std::min(exponent, check.printed.size()) - point - 1;
    check.printed = exponent == std::string::npos ? fmt::format("{:.{}f}", wrong, places)
                                                  : fmt::format("{:.{}e}", wrong, places);
    return check;
}

TEST(PublishedChecks, AllAgreeOnThisComputer) {
    const std::vector<Checked> checked = run(all());
    EXPECT_GT(checked.size(), 100u);
    for (const Checked& one : checked) EXPECT_TRUE(one.agrees) << difference_in_words(one);
}

TEST(PublishedChecks, SayWhatTheyAreAndWhereTheyComeFrom) {
    std::set<std::string> names;
    for (const Checked& one : run(all())) {
        EXPECT_TRUE(names.insert(one.name + one.source).second) << one.name << " twice";
        EXPECT_FALSE(one.subject.empty() || one.source.empty() || one.because.empty()) << one.name;
        EXPECT_TRUE(one.fault.empty()) << one.fault;
    }
}

TEST(PublishedChecks, FindAWrongFigureInEachOfThem) {
    for (const Check& check : all()) {
        const Check wrong = with_wrong_figure(check);
        EXPECT_FALSE(run(wrong).agrees) << check.name << ": " << check.printed << " as " << wrong.printed;
    }
}

Check of(const char* printed, Answer ours, Allowed allowed = {}) {
    return {"subject", "name", "source", printed, "", [=] { return ours; }, allowed};
}

TEST(Check, TakesItsToleranceFromThePrintedDigits) {
    EXPECT_TRUE(run(of("0.37875", 0.378754)).agrees);
    EXPECT_FALSE(run(of("0.37875", 0.37879)).agrees);
    EXPECT_TRUE(run(of("-3.5E-02", -0.0354)).agrees);
    EXPECT_FALSE(run(of("-3.5E-02", 0.035)).agrees);
    EXPECT_TRUE(run(of("12", 13.0, last_digits(1, "cut"))).agrees);
    EXPECT_TRUE(run(of("5.0000000000E+00", 5 + 4e-9, significant(9, "doubles"))).agrees);
    EXPECT_FALSE(run(of("5.0000000000E+00", 5 + 6e-9, significant(9, "doubles"))).agrees);
    EXPECT_DOUBLE_EQ(last_digit_of("3.7541005211E-01"), 1e-11);
    EXPECT_DOUBLE_EQ(last_digit_of("16"), 1);
}

TEST(Check, WithoutAFigureDoesNotAgree) {
    EXPECT_FALSE(run(of("0", std::nan(""))).agrees);
    EXPECT_FALSE(run(of("1", HUGE_VAL)).agrees);
    EXPECT_FALSE(run(of("pass", 1.0)).agrees) << "a number where a word is printed";
    EXPECT_FALSE(run(of("1", std::string("one"))).agrees);
    Check failing = of("1", 1.0);
    failing.ours = []() -> Answer { throw std::runtime_error("no run was found"); };
    EXPECT_FALSE(run(failing).agrees);
    EXPECT_EQ(difference_in_words(run(failing)), "name: no run was found");
}

TEST(Check, ShowsTwoDigitsMoreThanAreCompared) {
    EXPECT_EQ(text_of_ours(run(of("0.378", 0.37754321))), "0.37754");
    EXPECT_EQ(text_of_ours(run(of("3.2e-3", 0.0032094))), "3.209e-3");
    EXPECT_EQ(text_of_ours(run(of("pass", std::string("fail")))), "fail");
}

TEST(NistFiles, HoldTheirPointsAndCertifiedValues) {
    // Misra1a.dat: 14 points, b2 5.5015643181E-04 (7.2668688436E-06), sum of squares 1.2455138894E-01.
    const CertifiedFit misra = nist("Misra1a");
    ASSERT_EQ(misra.points.x.size(), 14u);
    EXPECT_EQ(misra.points.x[0], 77.6);
    EXPECT_EQ(misra.points.y[0], 10.07);
    ASSERT_EQ(misra.b.size(), 2u);
    EXPECT_EQ(misra.b[1].value, "5.5015643181E-04");
    EXPECT_EQ(misra.b[1].standard_deviation, "7.2668688436E-06");
    EXPECT_EQ(misra.rss, "1.2455138894E-01");
    EXPECT_EQ(nist("Bennett5").points.x.size(), 154u);
    EXPECT_THROW((void)nist("Misra1"), std::out_of_range);
}

}  // namespace
}  // namespace ebbtide::validation
