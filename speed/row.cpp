#include "row.hpp"

#include <fmt/core.h>
#include <algorithm>
#include <chrono>
#include <cmath>
#include <cstdio>
#include <ctime>

namespace ebbtide::speed {
namespace {

constexpr int rounds = 7;

struct Measured {
    std::string name;
    std::vector<double> seconds;
    double answer = 0;

    [[nodiscard]] double median() const {
        std::vector<double> sorted = seconds;
        std::ranges::sort(sorted);
        return sorted[sorted.size() / 2];
    }
};

std::string time_text(double seconds) {
    if (seconds < 1e-3) return fmt::format("{:.3g} us", seconds * 1e6);
    if (seconds < 1) return fmt::format("{:.3g} ms", seconds * 1e3);
    return fmt::format("{:.3g} s", seconds);
}

/// "52.1 million" rather than 5.21e+07.
std::string amount_text(double amount) {
    if (amount >= 1e9) return fmt::format("{:.3g} thousand million", amount / 1e9);
    if (amount >= 1e6) return fmt::format("{:.3g} million", amount / 1e6);
    if (amount >= 1e4) return fmt::format("{:.3g} thousand", amount / 1e3);
    return fmt::format("{:.4g}", amount);
}

std::string line_of(const Measured& measured, const Row& row) {
    const auto [low, high] = std::ranges::minmax(measured.seconds);
    return fmt::format("{:<30} {:>8}, {} to {}; {} {}/s", measured.name, time_text(measured.median()),
                       time_text(low), time_text(high), amount_text(row.amount / measured.median()),
                       row.unit);
}

std::vector<Measured> take_turns(const std::vector<Contender>& contenders) {
    std::vector<Measured> measured;
    for (const Contender& contender : contenders) {
        std::fprintf(stderr, "  warm up %s\n", contender.name.c_str());
        measured.push_back({contender.name, {}, contender.turn().answer});
    }
    for (int round = 1; round <= rounds; ++round) {
        std::fprintf(stderr, "  round %d of %d\n", round, rounds);
        for (std::size_t i = 0; i < contenders.size(); ++i)
            measured[i].seconds.push_back(contenders[i].turn().seconds);
    }
    return measured;
}

bool answers_agree(const Row& row, const std::vector<Contender>& contenders,
                   const std::vector<Measured>& measured) {
    bool agree = true;
    for (std::size_t i = 1; i < measured.size(); ++i) {
        const double ours = measured[0].answer, theirs = measured[i].answer;
        if (!contenders[i].checks_answer) continue;
        if (std::abs(theirs - ours) <= row.answer_tolerance * std::abs(ours)) continue;
        fmt::print("  DIFFERS     {} answers {:.15g}, ours {:.15g}: not the same work\n", measured[i].name,
                   theirs, ours);
        agree = false;
    }
    return agree;
}

const Measured* named(const std::vector<Measured>& measured, const std::string& name) {
    const auto at = std::ranges::find(measured, name, &Measured::name);
    return at == measured.end() ? nullptr : &*at;
}

bool print_goals(const Row& row, const std::vector<Measured>& measured) {
    bool all_met = true;
    for (const Goal& goal : row.goals) {
        const Measured* const ours = goal.by.empty() ? measured.data() : named(measured, goal.by);
        const Measured* const peer = named(measured, goal.against);
        double reached = 0;  // a contender that is not there has reached nothing
        std::string words = "nobody of that name";
        if (ours && goal.against.empty()) {
            reached = row.amount / ours->median();
            words = fmt::format("{} {}/s", amount_text(reached), row.unit);
        } else if (ours && peer) {
            reached = peer->median() / ours->median();
            words = fmt::format("{:.2f} times", reached);
        }
        const bool met = reached >= goal.at_least;
        fmt::print("  goal        {}: {}, {}\n", goal.words, words, met ? "met" : "NOT MET");
        all_met = all_met && met;
    }
    return all_met;
}

bool print_findings(const Row& row) {
    bool all_met = true;
    for (const Finding& finding : row.findings ? row.findings() : std::vector<Finding>()) {
        const bool met = finding.met.value_or(true);
        fmt::print("  {:<11} {}{}\n", finding.met ? "goal" : "finding", finding.words,
                   !finding.met ? ""
                   : met        ? ", met"
                                : ", NOT MET");
        all_met = all_met && met;
    }
    return all_met;
}

void print_growth(const Row& row) {
    if (row.growth.size() < 2) return;
    const std::string& unit = row.growth_unit.empty() ? row.unit : row.growth_unit;
    std::vector<double> medians;
    std::string words;
    for (const GrowthPoint& point : row.growth) {
        std::fprintf(stderr, "  growth at %s %s\n", amount_text(point.amount).c_str(), unit.c_str());
        Measured measured{"", {}, point.turn().answer};
        for (int i = 0; i < rounds; ++i) measured.seconds.push_back(point.turn().seconds);
        medians.push_back(measured.median());
        words += fmt::format("{} {} in {}; ", amount_text(point.amount), unit, time_text(medians.back()));
    }
    const double exponent = std::log(medians.back() / medians.front()) /
                            std::log(row.growth.back().amount / row.growth.front().amount);
    fmt::print("  growth      {}time goes as size to the power {:.2f}\n", words, exponent);
}

}  // namespace

bool run(const Row& row) {
    std::fprintf(stderr, "%s\n", row.work.c_str());
    std::vector<Contender> contenders{row.ours};
    contenders.insert(contenders.end(), row.ours_too.begin(), row.ours_too.end());
    const std::size_t first_peer = contenders.size();
    contenders.insert(contenders.end(), row.peers.begin(), row.peers.end());
    const std::vector<Measured> measured = take_turns(contenders);

    fmt::print("\n{}: {}\n  size        {}\n  ours        {}\n", row.id, row.work, row.size,
               line_of(measured[0], row));
    for (std::size_t i = 1; i < measured.size(); ++i)
        fmt::print("  {:<11} {}; ratio {:.2f}\n",
                   i < first_peer                ? "ours too"
                   : contenders[i].checks_answer ? "peer"
                                                 : "floor",
                   line_of(measured[i], row), measured[i].median() / measured[0].median());
    const bool agree = answers_agree(row, contenders, measured);
    const bool met = print_goals(row, measured);
    const bool found = print_findings(row);
    fmt::print("  limit       {}\n", row.limit);
    print_growth(row);
    std::fflush(stdout);
    return agree && met && found;
}

double seconds_of(const std::function<void()>& work) {
    const auto began = std::chrono::steady_clock::now();
    work();
    return std::chrono::duration<double>(std::chrono::steady_clock::now() - began).count();
}

double processor_seconds_of(const std::function<void()>& work) {
    const auto now = [] {
        timespec at{};
        clock_gettime(CLOCK_THREAD_CPUTIME_ID, &at);
        return static_cast<double>(at.tv_sec) + static_cast<double>(at.tv_nsec) * 1e-9;
    };
    const double began = now();
    work();
    return now() - began;
}

}  // namespace ebbtide::speed
