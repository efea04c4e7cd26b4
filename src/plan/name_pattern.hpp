#pragma once
// What the names of recordings say: "{specimen}-{polarity}-{replicate}.csv" against "K1-neg-2.csv".

#include <functional>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "basis/result.hpp"
#include "plan/order.hpp"

namespace ebbtide::plan {

/// A pattern, checked. Fields are {specimen}, {face}, {conditions}, {polarity}, {replicate}; * is anything,
/// also nothing; everything else stands for itself.
class NamePattern {
  public:
    /// Errors, as `what` and `remedy`: a field that is none, or given twice; two fields with nothing between
    /// them, which could be told apart in two ways; a brace that is not closed; a folder in it.
    [[nodiscard]] static Result<NamePattern> parse(std::string_view text);

    [[nodiscard]] bool names(std::string_view field) const;
    /// False of one that was never parsed.
    [[nodiscard]] bool parsed() const { return !parts_.empty(); }

    /// What a name says, as far as the pattern asks.
    struct Reading {
        std::optional<std::string> specimen, face, conditions;
        std::optional<Polarity> polarity;
        std::optional<int> replicate;

        auto operator<=>(const Reading&) const = default;
    };
    /// Ways in which the name fits and which `counts` accepts: none, one, or two of several. Empty `counts`
    /// accepts all.
    [[nodiscard]] std::vector<Reading> readings(std::string_view name,
                                                const std::function<bool(const Reading&)>& counts = {}) const;

  private:
    struct Part {
        enum class Kind { literal, anything, field } kind;
        std::string text;  ///< of a literal; name of a field
    };
    struct Search;
    std::vector<Part> parts_;
};

/// "+", "plus", "pos", "positive", "p" and their counterparts, whatever their case.
[[nodiscard]] std::optional<Polarity> polarity_named(std::string_view word);

}  // namespace ebbtide::plan
