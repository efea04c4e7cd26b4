#include "report/words.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "basis/number_text.hpp"
#include "report/law_words.hpp"

namespace ebbtide::report {

std::string or_not_stated(const std::string& text) {
    return text.empty() ? std::string(not_stated) : text;
}

std::string percent_text(double fraction) {
    return fixed_text(100 * fraction, 1) + " %";
}

std::string probability_text(double probability) {
    return probability < 0.001 ? "< 0.1 %" : percent_text(probability);
}

std::string prefixed_text(double value, int digits, std::string_view unit) {
    if (value == 0) return fmt::format("0 {}", unit);
    const double size = std::abs(value);
    if (size >= 0.1 && size < 1e4) return fmt::format("{} {}", significant_text(value, digits), unit);
    struct Prefix {
        double factor;
        std::string_view text;
    };
    constexpr Prefix prefixes[] = {{1e6, "M"}, {1e3, "k"}, {1, ""}, {1e-3, "m"}, {1e-6, "µ"}, {1e-9, "n"}};
    for (const Prefix& prefix : prefixes)
        if (size >= prefix.factor)
            return fmt::format("{} {}{}", significant_text(value / prefix.factor, digits), prefix.text, unit);
    return fmt::format("{} {}", significant_text(value, digits), unit);
}

std::string freedom_text(const std::optional<double>& degrees_of_freedom) {
    if (!degrees_of_freedom) return "∞";
    return *degrees_of_freedom > 10'000 ? "> 10 000" : fixed_text(*degrees_of_freedom, 0);
}

std::string ranges_text(std::vector<int> numbers) {
    std::ranges::sort(numbers);
    numbers.erase(std::unique(numbers.begin(), numbers.end()), numbers.end());
    std::string text;
    for (std::size_t first = 0; first < numbers.size();) {
        std::size_t last = first;
        while (last + 1 < numbers.size() && numbers[last + 1] == numbers[last] + 1) ++last;
        if (!text.empty()) text += ", ";
        text += last - first >= 2   ? fmt::format("{} to {}", numbers[first], numbers[last])
                : last - first == 1 ? fmt::format("{}, {}", numbers[first], numbers[last])
                                    : fmt::format("{}", numbers[first]);
        first = last + 1;
    }
    return text;
}

std::string_view words_for(decay::LevelStatus status) {
    switch (status) {
        case decay::LevelStatus::measured:
            return "measured";
        case decay::LevelStatus::not_reached:
            return "not reached";
        case decay::LevelStatus::below_resolution:
            return "below resolution";
        case decay::LevelStatus::too_noisy:
            return "too noisy";
        case decay::LevelStatus::extrapolated:
            return "extrapolated";
        case decay::LevelStatus::refused:
            return "refused";
    }
    return "";
}

std::string decay_text(const decay::LevelFigure& figure) {
    if (figure.status == decay::LevelStatus::extrapolated && figure.beyond)
        return fmt::format("≈ {}, extrapolated", extrapolated_text(*figure.beyond));
    if (figure.decay_s) {
        std::string text = uncertain_text(*figure.decay_s, figure.u_decay_s);
        if (figure.status != decay::LevelStatus::measured)
            text += fmt::format(" ({})", words_for(figure.status));
        if (figure.last_crossing_s)
            text += fmt::format(" (last crossing {})", significant_text(*figure.last_crossing_s, 3));
        return text;
    }
    if (figure.at_least_s)
        return fmt::format("> {} ({})", significant_text(*figure.at_least_s, 3), words_for(figure.status));
    if (figure.at_most_s)
        return fmt::format("< {} ({})", significant_text(*figure.at_most_s, 3), words_for(figure.status));
    return std::string(words_for(figure.status));
}

std::string_view words_for(decay::Scope scope) {
    switch (scope) {
        case decay::Scope::run:
            return "one run";
        case decay::Scope::series:
            return "one series";
        case decay::Scope::day:
            return "one day";
        case decay::Scope::bench:
            return "the bench";
    }
    return "";
}

std::string_view words_for(plan::Consequence consequence) {
    switch (consequence) {
        case plan::Consequence::note:
            return "Noted; nothing follows.";
        case plan::Consequence::warn:
            return "The run counts; read its figures with this in mind.";
        case plan::Consequence::fail_specimen:
            return "The run counts as not meeting the requirement.";
        case plan::Consequence::void_run:
            return "The run does not count.";
    }
    return "";
}

std::string words_for(plan::FlagCode code) {
    return plan::in_words(plan::facts(code).name);
}

std::string words_for(plan::InitialBasis basis) {
    return plan::in_words(plan::name_of(basis));
}

std::string words_for(trace::Notice::Kind kind) {
    return plan::in_words(trace::name_of(kind));
}

std::string result_text(const judge::Finding& finding) {
    if (finding.supplied) return uncertain_text(*finding.supplied, finding.u_supplied) + " (supplied)";
    if (!finding.value_s || finding.bound == judge::BoundKind::none) return "no result";
    if (finding.bound == judge::BoundKind::at_least)
        return fmt::format("at least {} s", significant_text(*finding.value_s, 3));
    if (finding.bound == judge::BoundKind::at_most)
        return fmt::format("at most {} s", significant_text(*finding.value_s, 3));
    return uncertain_text(*finding.value_s, finding.u_s) + " s";
}

std::string run_name(const plan::RunKey& key) {
    std::string text = key.specimen;
    for (const std::string& part : {key.face, key.conditions})
        if (!part.empty()) text += " " + part;
    return fmt::format("{}, {}, run {}", text,
                       key.polarity == plan::Polarity::positive ? "positive" : "negative", key.replicate);
}

}  // namespace ebbtide::report
