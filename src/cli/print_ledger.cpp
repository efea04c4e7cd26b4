#include "cli/print_ledger.hpp"

#include <fmt/format.h>

#include <cmath>
#include <nlohmann/json.hpp>
#include <numbers>

#include "basis/number_text.hpp"
#include "cli/print.hpp"
#include "plan/level.hpp"

namespace ebbtide::cli {

std::string counted(std::int64_t count, const char* one, const char* many) {
    return fmt::format("{} {}", count, count == 1 ? one : many);
}

plan::Conformity conformity_of(const std::string& word) {
    for (const plan::Conformity one : {plan::Conformity::pass, plan::Conformity::conditional_pass,
                                       plan::Conformity::conditional_fail, plan::Conformity::fail})
        if (word == plan::name_of(one)) return one;
    return plan::Conformity::void_;
}

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

std::string checks_text(const nlohmann::json& checks) {
    std::string out;
    for (const nlohmann::json& one : checks.at("checks")) {
        const nlohmann::json& record = one.at("record");
        const auto text = [&](const char* key) {
            const nlohmann::json value = record.value(key, nlohmann::json());
            return value.is_string() ? value.get<std::string>() : std::string();
        };
        const bool is_override = text("kind") == "override";
        std::string words = fmt::format("{}  {}{}", text("ended"), text("kind"),
                                        is_override                 ? ""
                                        : text("outcome") == "good" ? "  ● good"
                                                                    : "  ✕ failed");
        if (const std::string until = text("good_until"); !until.empty()) words += ", holds until " + until;
        out += wrapped(words, screen, 4) + "\n";
        std::string more =
            fmt::format("bench {}, revision {}, by {} ({})", text("bench"), text("bench_revision"),
                        text("by"), one.at("check").get<std::string>());
        if (const std::string reason = text("reason"); !reason.empty()) more += ": " + reason;
        out += indented(wrapped(more, screen - 4, 2), 4);
    }
    return out +
           counted(static_cast<std::int64_t>(checks.at("checks").size()), "bench check", "bench checks") +
           "\n";
}

std::string validations_text(const nlohmann::json& validations) {
    std::string out;
    for (const nlohmann::json& one : validations.at("validations")) {
        out += fmt::format(
            "{}  {}\n", one.at("made").get<std::string>(),
            one.at("all_agree") == true
                ? fmt::format("● all {} checks agree", one.at("checks").get<std::int64_t>())
                : fmt::format("✕ {} of {} checks do not agree", one.at("disagreeing").get<std::int64_t>(),
                              one.at("checks").get<std::int64_t>()));
        const nlohmann::json& computer = one.at("computer");
        out += indented(wrapped(fmt::format("{}, {} ({})", computer.at("program").get<std::string>(),
                                            computer.at("processor").get<std::string>(),
                                            one.at("validation").get<std::string>()),
                                screen - 4, 2),
                        4);
    }
    return out +
           counted(static_cast<std::int64_t>(validations.at("validations").size()), "validation",
                   "validations") +
           "\n";
}

std::string materials_text(const std::vector<ledger::Material>& materials) {
    std::string out;
    for (const ledger::Material& one : materials) {
        out += wrapped(one.material, screen, 2) + "\n";
        out += indented(
            wrapped(fmt::format("{}, {} failed, {}, {}; tested {}", counted(one.orders, "order", "orders"),
                                one.failed, counted(one.reports, "report", "reports"),
                                counted(one.times, "decay time", "decay times"),
                                one.first_tested == one.last_tested
                                    ? one.last_tested
                                    : one.first_tested + " to " + one.last_tested),
                    screen - 4, 2),
            4);
    }
    return out + counted(static_cast<std::int64_t>(materials.size()), "material", "materials") + "\n";
}

}  // namespace ebbtide::cli
