#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>
#include <optional>
#include <vector>

#include "basis/number_text.hpp"
#include "cli/print.hpp"
#include "cli/print_ledger.hpp"

namespace ebbtide::cli {
namespace {

using nlohmann::json;

constexpr std::size_t most_lines_of_budget = 8;

std::string text(const json& value) {
    return value.is_string() ? value.get<std::string>() : std::string();
}
std::optional<double> number(const json& value) {
    return value.is_number() ? std::optional(value.get<double>()) : std::nullopt;
}
std::string stated(const std::string& text) {
    return text.empty() ? "not stated" : text;
}
std::string spaced(std::string text) {
    std::ranges::replace(text, '_', ' ');
    return text;
}
std::string volts(const json& value, const json& u = {}) {
    return value.is_null() ? "not seen" : uncertain_text(value.get<double>(), number(u)) + " V";
}
std::string percent(const json& value) {
    return value.is_null() ? "not seen" : fixed_text(100 * value.get<double>(), 1) + " %";
}
std::string seconds(const json& value) {
    return value.is_null() ? "not seen" : significant_text(value.get<double>(), 5) + " s";
}

/// Blocks of facts under headings.
class Sheet {
  public:
    void heading(const std::string& words) { out_ += "\n" + words + "\n"; }
    void fact(const std::string& name, const std::string& words) {
        if (words.empty()) return;
        const std::string behind = wrapped(words, screen - label - 2, 0);
        out_ += "  " + padded(name, label);
        for (const char c : behind)
            out_ += c == '\n' ? "\n" + std::string(label + 2, ' ') : std::string(1, c);
        out_ += "\n";
    }
    void line(const std::string& words) { out_ += indented(wrapped(words, screen - 2, 2), 2); }
    [[nodiscard]] const std::string& out() const { return out_; }

  private:
    static constexpr std::size_t label = 15;
    std::string out_;
};

std::string result_of(const json& level) {
    if (const auto decay_s = number(level.at("decay_s")))
        return fmt::format("{} s ({})", uncertain_text(*decay_s, number(level.at("u_decay_s"))),
                           text(level.at("status")));
    std::string words = spaced(text(level.at("status")));
    if (const auto least_s = number(level.at("at_least_s")))
        words += ", at least " + significant_text(*least_s, 3) + " s";
    if (const auto most_s = number(level.at("at_most_s")))
        words += ", at most " + significant_text(*most_s, 3) + " s";
    return words;
}

void add_budget(Sheet& sheet, const json& budget) {
    std::size_t shown = 0;
    for (const json& part : budget) {
        if (++shown > most_lines_of_budget) {
            sheet.fact("", fmt::format("and {} smaller", budget.size() - most_lines_of_budget));
            return;
        }
        const double u = part.at("u").get<double>(),
                     share_s = std::abs(part.at("sensitivity").get<double>()) * u;
        const std::string unit = text(part.at("unit")) == "1" ? "" : " " + text(part.at("unit"));
        sheet.fact(shown == 1 ? "uncertainty of" : "",
                   fmt::format("{}, {}{}: {} s", text(part.at("source")), significant_text(u, 2), unit,
                               significant_text(share_s, 2)));
    }
}

/// "revision 1, link 12 (3f2a...), 2026-09-22T10:00:00Z by TO: first entry".
void add_entry(Sheet& sheet, const std::string& name, const json& entry) {
    if (entry.is_null()) {
        sheet.fact(name, "not kept");
        return;
    }
    const auto by = [](const json& one) {
        const std::string why = text(one.at("why"));
        return fmt::format("{} by {}{}", text(one.at("at")), stated(text(one.at("who"))),
                           why.empty() ? "" : ": " + why);
    };
    sheet.fact(name, fmt::format("revision {}, link {} {}, written {}", entry.at("revision").get<int>(),
                                 entry.at("number").get<std::int64_t>(), text(entry.at("link")), by(entry)));
    for (const json& later : entry.at("later"))
        sheet.fact(
            "", fmt::format("{} by revision {}, {}", later.at("voided") == true ? "withdrawn" : "superseded",
                            later.at("revision").get<int>(), by(later)));
}

std::string kept_as(const json& segment) {
    return segment.is_null() ? "not kept" : fmt::format("kept, link {}", segment.get<std::int64_t>());
}

void add_file(Sheet& sheet, const json& file) {
    if (file.is_null()) return;
    sheet.fact("file", fmt::format("{}, {}, SHA-256 {}", text(file.at("name")), kept_as(file.at("segment")),
                                   text(file.at("sha256"))));
}

void add_recording(Sheet& sheet, const json& run) {
    const json& recording = run.at("recording");
    if (recording.is_null()) {
        sheet.fact("recording", "none: planned, not recorded");
        return;
    }
    sheet.fact("recording", fmt::format("{}, {} bytes, {}, SHA-256 {}", text(recording.at("file")),
                                        recording.at("bytes").get<std::uint64_t>(),
                                        kept_as(recording.at("segment")), text(recording.at("sha256"))));
    if (const json& runs = recording.at("runs_file"); !runs.is_null())
        sheet.fact("", fmt::format("its runs: {}, {}, SHA-256 {}", text(runs.at("name")),
                                   kept_as(runs.at("segment")), text(runs.at("sha256"))));
    sheet.fact("read as", text(recording.at("dialect")));
    for (const json& notice : recording.at("notices"))
        sheet.fact("noticed", fmt::format("{} {}", spaced(text(notice.at("kind"))), text(notice.at("text"))));
}

void add_figures(Sheet& sheet, const json& run) {
    const json& cut = run.at("cut");
    if (cut.is_null()) return;
    const json &zero = run.at("zero"), &release = run.at("release"), &charging = run.at("charging");
    sheet.fact("cut", fmt::format("charge from {}, release {}, end {}; seconds of the recording",
                                  seconds(cut.at("charge_s")), seconds(cut.at("release_s")),
                                  seconds(cut.at("end_s"))));
    sheet.fact("zero",
               fmt::format("{}, {}. {}", volts(zero.at("zero_V"), zero.at("u_zero_V")),
                           zero.at("proven") == true ? "proven" : "not proven", text(zero.at("from"))));
    sheet.fact("release", fmt::format("{} s, by {}",
                                      uncertain_text(release.at("release_s").get<double>(),
                                                     number(release.at("u_release_s"))),
                                      spaced(text(release.at("release_source")))));
    sheet.fact("charging",
               fmt::format("for {}, electrode {}, V0 {}, accepted {}, prompt drop {}, residual {}",
                           seconds(charging.at("charging_s")), volts(charging.at("electrode_V")),
                           volts(charging.at("initial_voltage_V"), charging.at("u_initial_voltage_V")),
                           percent(charging.at("accepted_fraction")), percent(charging.at("prompt_drop")),
                           volts(charging.at("residual_V"))));
}

void add_conditions(Sheet& sheet, const json& conditions) {
    if (conditions.is_null()) {
        sheet.fact("conditions", "not stated");
        return;
    }
    const auto with_unit = [](const json& value, const char* unit) {
        return value.is_null() ? "not stated" : shortest_text(value.get<double>()) + unit;
    };
    std::string words = fmt::format("{}: {}, {}", text(conditions.at("id")),
                                    with_unit(conditions.at("relative_humidity_percent"), " % RH"),
                                    with_unit(conditions.at("temperature_C"), " °C"));
    words += fmt::format("; conditioned from {} to {}", stated(text(conditions.at("conditioned_from"))),
                         stated(text(conditions.at("conditioned_to"))));
    sheet.fact("conditions", words);
}

/// "opening check of 2026-10-06T09:15:03Z by TO: good, holds until ... (BENCH/opening-...)".
std::string check_in_words(const json& check) {
    const bool is_override = text(check.at("kind")) == "override";
    std::string words = fmt::format("{}{} of {} by {}", text(check.at("kind")), is_override ? "" : " check",
                                    text(check.at("ended")), stated(text(check.at("by"))));
    if (!is_override) words += ": " + text(check.at("outcome"));
    if (const std::string reason = text(check.at("reason")); !reason.empty()) words += ", " + reason;
    if (const std::string until = text(check.at("good_until")); !until.empty())
        words += ", holds until " + until;
    return fmt::format("{}; {}, link {}", words, text(check.at("check")),
                       check.at("number").get<std::int64_t>());
}

/// The bench checks on either side of a run.
void add_checks(Sheet& sheet, const json& checks) {
    if (checks.is_null()) {
        sheet.fact("checks", "not known: the recording does not say when it was made, or cites no bench");
        return;
    }
    const auto side = [&](const char* name, const json& check) {
        sheet.fact(name, check.is_null() ? "none kept" : check_in_words(check));
    };
    side("check before", checks.at("before"));
    if (!checks.at("override").is_null()) side("override", checks.at("override"));
    side("check after", checks.at("after"));
}

void add_run(Sheet& sheet, const json& run) {
    sheet.heading("run " + text(run.at("label")));
    sheet.fact("run id", run.at("run").is_null() ? "none" : text(run.at("run")));
    for (const json& level : run.at("levels")) {
        sheet.fact("t(" + level_label(level) + ")", result_of(level));
        add_budget(sheet, level.at("budget"));
    }
    for (const json& flag : run.at("flags"))
        sheet.fact("flag", fmt::format("{} {}: {}", text(flag.at("severity")), text(flag.at("code")),
                                       text(flag.at("message"))));
    sheet.fact("counts", run.at("counts") == true ? "yes" : "no");
    add_recording(sheet, run);
    add_figures(sheet, run);
    if (const json& specimen = run.at("specimen"); !specimen.is_null())
        sheet.fact(
            "specimen",
            fmt::format("{}: {}, {}, {}", text(specimen.at("id")), stated(text(specimen.at("direction"))),
                        stated(text(specimen.at("place"))), stated(text(specimen.at("state")))));
    if (const json& item = run.at("item"); !item.is_null())
        sheet.fact("item", fmt::format("{}: {}, lot {}; received: {}", text(item.at("id")),
                                       text(item.at("description")), stated(text(item.at("lot"))),
                                       stated(text(item.at("condition_on_receipt")))));
    add_conditions(sheet, run.at("conditions"));
    add_checks(sheet, run.at("checks"));
    add_entry(sheet, "entry", run.at("entry"));
}

/// Runs of a statement or a mean.
void add_runs(Sheet& sheet, const json& runs) {
    sheet.heading("runs");
    for (const json& run : runs) {
        std::string words = text(run.at("label"));
        for (const json& level : run.at("levels"))
            words += fmt::format(", t({}) {}", level_label(level), result_of(level));
        if (run.at("counts") != true) words += ", does not count";
        if (const json& recording = run.at("recording"); !recording.is_null())
            words += fmt::format("; {} ({})", text(recording.at("file")), kept_as(recording.at("segment")));
        if (const json& entry = run.at("entry"); !entry.is_null())
            for (const json& later : entry.at("later"))
                words += fmt::format("; {} by {}: {}",
                                     later.at("voided") == true ? "withdrawn since" : "superseded since",
                                     text(later.at("who")), text(later.at("why")));
        sheet.line(words);
    }
}

/// Each conditions once, and how to see the rest of a run.
void add_shared(Sheet& sheet, const json& runs, const std::string& order) {
    std::vector<json> seen;
    for (const json& run : runs) {
        const json& conditions = run.at("conditions");
        if (std::ranges::find(seen, conditions) != seen.end()) continue;
        seen.push_back(conditions);
        add_conditions(sheet, conditions);
    }
    sheet.line(fmt::format(
        "Cut, zero, release, charging and budget of each: ebbtide ledger pedigree \"{}/RUN\"", order));
}

void add_results(Sheet& sheet, const json& requirements, bool with_budget) {
    for (const json& requirement : requirements) {
        sheet.heading("requirement " + text(requirement.at("id")));
        sheet.line(fmt::format("{} ({}): {}", text(requirement.at("sentence")),
                               text(requirement.at("clause")), text(requirement.at("outcome"))));
        for (const json& finding : requirement.at("findings")) {
            sheet.line(fmt::format("{}: {}", text(finding.at("group")), text(finding.at("reason"))));
            if (with_budget) add_budget(sheet, finding.at("budget"));
        }
    }
}

void add_bench(Sheet& sheet, const json& bench) {
    sheet.heading("bench");
    if (bench.is_null()) {
        sheet.line("none cited");
        return;
    }
    sheet.fact("bench", fmt::format("{}, revision {}", text(bench.at("id")), text(bench.at("revision"))));
    const json& sensor = bench.at("sensor");
    sheet.fact("sensor", fmt::format("{}, serial {}", stated(text(sensor.at("name"))),
                                     stated(text(sensor.at("serial")))));
    for (const json& one : bench.at("calibrations"))
        sheet.fact("certificate", fmt::format("{}: {}, done {}, due {}, {} on the days of the test",
                                              text(one.at("equipment")), stated(text(one.at("certificate"))),
                                              text(one.at("done")), text(one.at("due")),
                                              one.at("in_force") == true ? "in force" : "NOT in force"));
    for (const json& one : bench.at("checks")) sheet.fact("check", check_in_words(one));
    add_file(sheet, bench.at("file"));
    add_entry(sheet, "entry", bench.at("entry"));
}

void add_document(Sheet& sheet, const char* name, const json& document) {
    sheet.heading(name);
    sheet.fact(name, fmt::format("{}, edition {}: {}", text(document.at("id")), text(document.at("edition")),
                                 text(document.at("title"))));
    sheet.fact("taken from", text(document.at("source")));
    add_file(sheet, document.at("file"));
    add_entry(sheet, "entry", document.at("entry"));
}

void add_order(Sheet& sheet, const json& order, const json& rule) {
    sheet.heading("order");
    sheet.fact("order", fmt::format("{}, revision {}: {}", text(order.at("id")),
                                    order.at("revision").get<int>(), text(order.at("title"))));
    sheet.fact("customer", text(order.at("customer").at("name")));
    sheet.fact("tested", fmt::format("{} to {} by {}", text(order.at("tested_from")),
                                     text(order.at("tested_to")), stated(text(order.at("tested_by")))));
    sheet.fact("authorised",
               fmt::format("by {}, {}; issued {}", stated(text(order.at("authorised_by"))),
                           stated(text(order.at("authorised_role"))), stated(text(order.at("issued")))));
    sheet.fact("decision rule",
               fmt::format("{}; agreed: {}", spaced(text(rule.at("kind"))), stated(text(rule.at("agreed")))));
    for (const json& deviation : order.at("deviations")) sheet.fact("deviation", text(deviation));
    add_file(sheet, order.at("file"));
    add_entry(sheet, "entry", order.at("entry"));
}

void add_people(Sheet& sheet, const json& people) {
    for (const json& one : people) {
        const json& entry = one.at("entry");
        const std::string initials = text(one.at("initials"));
        sheet.fact(
            text(one.at("role")) + " by",
            fmt::format("{}{}{}", text(one.at("name")), initials.empty() ? "" : " (" + initials + ")",
                        entry.is_null() ? ", not kept"
                                        : fmt::format(", link {}", entry.at("number").get<std::int64_t>())));
    }
}

void add_statement(Sheet& sheet, const json& pedigree) {
    const json& statement = pedigree.at("statement");
    sheet.heading("statement of conformity");
    sheet.fact("statement", text(statement.at("statement")));
    for (const json& reason : statement.at("reasons")) sheet.fact("reason", text(reason));
    for (const json& caution : statement.at("cautions")) sheet.fact("caution", text(caution));
    add_entry(sheet, "entry", statement.at("entry"));
    for (const json& report : pedigree.at("reports"))
        sheet.fact(
            "report",
            report.at("voided") == true
                ? fmt::format("revision {}, withdrawn {} by {}: {}", report.at("revision").get<int>(),
                              text(report.at("at")), stated(text(report.at("who"))), text(report.at("why")))
                : fmt::format("revision {}, link {}, kept {}, SHA-256 {}", report.at("revision").get<int>(),
                              report.at("number").get<std::int64_t>(), text(report.at("at")),
                              text(report.at("sha256"))));
}

}  // namespace

std::string pedigree_text(const json& pedigree) {
    Sheet sheet;
    const std::string of = text(pedigree.at("of"));
    if (of == "run")
        add_run(sheet, pedigree.at("runs").at(0));
    else
        add_results(sheet, pedigree.at("requirements"), of == "result");
    if (of != "run") {
        add_runs(sheet, pedigree.at("runs"));
        add_shared(sheet, pedigree.at("runs"), text(pedigree.at("order").at("id")));
    }
    add_bench(sheet, pedigree.at("bench"));
    add_document(sheet, "method", pedigree.at("method"));
    add_document(sheet, "specification", pedigree.at("specification"));
    add_order(sheet, pedigree.at("order"), pedigree.at("decision_rule"));
    add_people(sheet, pedigree.at("people"));
    add_statement(sheet, pedigree);
    sheet.heading("made by");
    sheet.fact("program",
               "ebbtide " + text(pedigree.at("engine_version")) + ", " + text(pedigree.at("made")));
    sheet.fact("settings", text(pedigree.at("settings_hash")));
    sheet.fact("record", text(pedigree.at("record")));
    sheet.fact("head", fmt::format("link {} {}", pedigree.at("head").at("number").get<std::int64_t>(),
                                   text(pedigree.at("head").at("sha256"))));
    return "pedigree of " + text(pedigree.at("figure")) + "\n" + sheet.out();
}

}  // namespace ebbtide::cli
