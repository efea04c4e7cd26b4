#pragma once
// A published figure beside ours: what a laboratory validates its software by, on the computer that judges
// (ISO/IEC 17025:2017, 7.11.2, from memory: software is validated before it is used, and after changes).
//
// A check is a value. To add one, add an entry to the list of its subject.

#include <functional>
#include <memory>
#include <optional>
#include <string>
#include <variant>
#include <vector>

namespace ebbtide::validation {

/// A figure in the unit of its check, or a word (a status, a hash).
using Answer = std::variant<double, std::string>;

/// How far ours may be from the printed figure. A word must be the same.
struct Allowed {
    enum class Kind {
        last_digit,   ///< so many units of the last printed digit
        difference,   ///< in the unit of the check
        significant,  ///< a relative 10^-amount: so many leading digits agree
    };
    Kind kind = Kind::last_digit;
    double amount = 0.5;
    std::string because = "rounding of the printed figure";
};

[[nodiscard]] Allowed last_digits(double units, std::string because);
[[nodiscard]] Allowed difference(double amount, std::string because);
[[nodiscard]] Allowed significant(double digits, std::string because);

struct Check {
    std::string subject;  ///< "Decay times": the chapter of the report
    std::string name;     ///< what the figure is
    std::string source;   ///< document with clause or table, and how it was seen
    std::string printed;  ///< as the source prints it: "0.37875", "3.7541005211E-01", "pass"
    std::string unit;     ///< empty for words and pure numbers
    std::function<Answer()> ours;
    Allowed allowed = {};
};

/// A check that was run.
struct Checked {
    std::string subject, name, source, printed, unit;
    Answer ours = std::string();
    double allowed = 0;  ///< difference, in the unit; 0 for words
    std::string because = {};
    bool agrees = false;
    std::string fault = {};  ///< why there is no figure of ours; mostly empty
};

/// Never throws: a check that does is one that does not agree.
[[nodiscard]] Checked run(const Check& check);
[[nodiscard]] std::vector<Checked> run(const std::vector<Check>& checks);

/// Ours as the source prints its figure, with two digits more; empty where there is none.
[[nodiscard]] std::string text_of_ours(const Checked& checked);
/// "t(10 %): 2.303585 printed, 2.30258500 here", or why there is no figure of ours.
[[nodiscard]] std::string difference_in_words(const Checked& checked);
/// A unit of the last digit of a printed number: 1e-5 of "0.37875", 1e-11 of "3.7541005211E-01".
[[nodiscard]] double last_digit_of(const std::string& printed);

/// The work's result, worked out when it is first asked for: for several checks of one fit, or of one set of
/// draws.
template <class Work>
[[nodiscard]] auto once(Work work) {
    using Value = std::invoke_result_t<Work>;
    return [work, held = std::make_shared<std::optional<Value>>()]() -> const Value& {
        if (!*held) held->emplace(work());
        return **held;
    };
}

}  // namespace ebbtide::validation
