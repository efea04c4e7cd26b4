#include "validation/check.hpp"

#include <cmath>
#include <exception>

#include "basis/number_text.hpp"

namespace ebbtide::validation {
namespace {

std::string mantissa_of(const std::string& printed) {
    return printed.substr(0, printed.find_first_of("eE"));
}

int places_of(const std::string& mantissa) {
    const std::size_t point = mantissa.find('.');
    return point == std::string::npos ? 0 : static_cast<int>(mantissa.size() - point - 1);
}

double allowed_difference(const Check& check, double expected) {
    switch (check.allowed.kind) {
        case Allowed::Kind::last_digit:
            return check.allowed.amount * last_digit_of(check.printed);
        case Allowed::Kind::difference:
            return check.allowed.amount;
        case Allowed::Kind::significant:
            return std::abs(expected) * std::pow(10.0, -check.allowed.amount);
    }
    return 0;
}

void compare(const Check& check, double ours, Checked& checked) {
    const std::optional<double> expected = parse_number(check.printed);
    if (!expected) {
        checked.fault = "the printed figure is no number";
        return;
    }
    checked.allowed = allowed_difference(check, *expected);
    if (!std::isfinite(ours)) {
        checked.fault = "no finite number came out";
        checked.ours = std::string();
        return;
    }
    // A hair more, for the printed text's own binary rounding.
    checked.agrees = std::abs(ours - *expected) <= checked.allowed * (1 + 1e-9);
}

}  // namespace

Allowed last_digits(double units, std::string because) {
    return {Allowed::Kind::last_digit, units, std::move(because)};
}

Allowed difference(double amount, std::string because) {
    return {Allowed::Kind::difference, amount, std::move(because)};
}

Allowed significant(double digits, std::string because) {
    return {Allowed::Kind::significant, digits, std::move(because)};
}

Checked run(const Check& check) {
    Checked checked{check.subject, check.name, check.source, check.printed, check.unit};
    checked.because = check.allowed.because;
    try {
        checked.ours = check.ours();
        if (const auto* number = std::get_if<double>(&checked.ours)) {
            compare(check, *number, checked);
        } else {
            checked.because = "the same word";
            checked.agrees = std::get<std::string>(checked.ours) == check.printed;
        }
    } catch (const std::exception& failure) {
        checked.fault = failure.what();
    }
    return checked;
}

std::vector<Checked> run(const std::vector<Check>& checks) {
    std::vector<Checked> all;
    for (const Check& check : checks) all.push_back(run(check));
    return all;
}

std::string text_of_ours(const Checked& checked) {
    if (!checked.fault.empty()) return "";
    const auto* number = std::get_if<double>(&checked.ours);
    if (!number) return std::get<std::string>(checked.ours);
    const std::string mantissa = mantissa_of(checked.printed);
    const double unit = last_digit_of(checked.printed) * std::pow(10.0, places_of(mantissa));
    return fixed_text(*number / unit, places_of(mantissa) + 2) + checked.printed.substr(mantissa.size());
}

std::string difference_in_words(const Checked& checked) {
    return checked.name + ": " +
           (checked.fault.empty() ? checked.printed + " printed, " + text_of_ours(checked) + " here"
                                  : checked.fault);
}

double last_digit_of(const std::string& printed) {
    const std::string mantissa = mantissa_of(printed);
    const auto exponent = parse_number(
        mantissa.size() == printed.size() ? "0" : std::string_view(printed).substr(mantissa.size() + 1));
    return std::pow(10.0, exponent.value_or(0) - places_of(mantissa));
}

}  // namespace ebbtide::validation
