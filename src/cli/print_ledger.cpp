#include "cli/print_ledger.hpp"

#include <fmt/format.h>

#include <cmath>
#include <nlohmann/json.hpp>
#include <numbers>

#include "basis/number_text.hpp"
#include "cli/print.hpp"
#include "plan/level.hpp"

namespace ebbtide::cli {

std::string level_label(const nlohmann::json& level) {
    const double value = level.at("level").get<double>();
    if (level.at("level_kind") != "fraction")
        return plan::Level{plan::Level::Kind::absolute_V, value, ""}.label();
    const bool is_1_e = std::abs(value - 1 / std::numbers::e) < 1e-12;
    return plan::Level{plan::Level::Kind::fraction, value, is_1_e ? "1/e" : ""}.label();
}

std::string revisions_text(const std::vector<ledger::Entry>& revisions) {
    std::string out;
    for (std::size_t first = 0, last = 0; first < revisions.size(); first = last) {
        const ledger::Entry& writing = revisions[first];
        std::size_t runs = 0, runs_withdrawn = 0;
        std::vector<std::string> lines;
        for (; last < revisions.size() && revisions[last].at == writing.at &&
               revisions[last].who == writing.who && revisions[last].why == writing.why;
             ++last) {
            const ledger::Entry& one = revisions[last];
            if (one.kind == ledger::Kind::run)
                ++(one.voided ? runs_withdrawn : runs);
            else
                lines.push_back(fmt::format("{}, revision {}{}", ledger::name_of(one.kind), one.revision,
                                            one.voided ? ": withdrawn" : ""));
        }
        if (runs > 0) lines.push_back(fmt::format("{} {} written", runs, runs == 1 ? "run" : "runs"));
        if (runs_withdrawn == 1 && runs == 0)
            lines.push_back(revisions[last - 1].id + ": withdrawn");
        else if (runs_withdrawn > 0)
            lines.push_back(
                fmt::format("{} {} withdrawn", runs_withdrawn, runs_withdrawn == 1 ? "run" : "runs"));
        out += wrapped(fmt::format("{}  {}  {}", iso_text(writing.at),
                                   writing.who.empty() ? "not stated" : writing.who,
                                   writing.why.empty() ? "no reason stated" : writing.why),
                       screen, 4) +
               "\n";
        for (const std::string& line : lines) out += indented(line, 4);
    }
    return out;
}

std::string transcripts_text(const nlohmann::json& transcripts) {
    const auto text = [](const nlohmann::json& one, const char* key) {
        return one.at(key).get<std::string>();
    };
    std::string out;
    for (const nlohmann::json& one : transcripts.at("transcripts")) {
        const nlohmann::json& u_s = one.at("u_decay_s");
        // What was copied without an uncertainty keeps the digits that it had.
        const double decay_s = one.at("decay_s").get<double>();
        const std::string time =
            u_s.is_null() ? shortest_text(decay_s) : uncertain_text(decay_s, u_s.get<double>());
        out += fmt::format("{}  t({}) {} s  {}\n", text(one, "tested"), level_label(one), time,
                           text(one, "material"));
        std::string more;
        for (const auto& [key, name] :
             {std::pair{"lot", "lot "}, std::pair{"customer", ""}, std::pair{"method", ""},
              std::pair{"specimen", "specimen "}, std::pair{"polarity", ""}, std::pair{"face", ""},
              std::pair{"note", ""}})
            if (const std::string said = text(one, key); !said.empty()) more += name + said + ", ";
        more += fmt::format("copied by {} ({})", text(one, "who"), text(one, "transcript"));
        out += indented(wrapped(more, screen - 4, 2), 4);
    }
    const std::size_t count = transcripts.at("transcripts").size();
    return out + fmt::format("{} transcribed {}\n", count, count == 1 ? "time" : "times");
}

}  // namespace ebbtide::cli
