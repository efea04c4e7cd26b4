#include <fmt/format.h>

#include <nlohmann/json.hpp>

#include "basis/number_text.hpp"
#include "cli/commands.hpp"
#include "cli/print.hpp"
#include "record/json.hpp"
#include "work/fit_curve.hpp"

namespace ebbtide::cli {
namespace {

using nlohmann::json;

Result<work::FitRequest> request_of(const FitOptions& options) {
    work::FitRequest request;
    if (options.law == "auto") {
        request.kinds = decay::law_kinds_under({});
    } else if (const auto kind = decay::law_kind_of(options.law)) {
        request.kinds = {*kind};
    } else {
        std::string known = "auto";
        for (const decay::LawKind one : decay::law_kinds_under({}))
            known += fmt::format(", {}", decay::name_of(one));
        return Error{Fault::bad_input, fmt::format("no law is called '{}'", options.law), "--law",
                     fmt::format("There are: {}", known)};
    }
    using Kind = decay::Offset::Kind;
    if (options.offset == "free")
        request.offset.kind = Kind::free;
    else if (options.offset == "zero")
        request.offset = {Kind::stated, 0};
    else if (options.offset == "amplitude")
        request.offset.kind = Kind::minus_amplitude;
    else if (const auto value_V = parse_number(options.offset))
        request.offset = {Kind::stated, *value_V};
    else
        return Error{Fault::bad_input, fmt::format("'{}' is no offset", options.offset), "--offset",
                     "Say free, zero, amplitude, or a number of volts"};
    return request;
}

std::string_view word_of(fit::Standing standing) {
    switch (standing) {
        case fit::Standing::free:
            return "free";
        case fit::Standing::held:
            return "held";
        case fit::Standing::at_bound:
            return "at_bound";
        case fit::Standing::did_not_move:
            return "did_not_move";
        case fit::Standing::not_determined:
            return "not_determined";
    }
    return {};
}

std::string_view word_of(fit::Outcome outcome) {
    switch (outcome) {
        case fit::Outcome::not_run:
            return "not_run";
        case fit::Outcome::converged:
            return "converged";
        case fit::Outcome::stalled:
            return "stalled";
        case fit::Outcome::singular:
            return "singular";
        case fit::Outcome::too_few_samples:
            return "too_few_samples";
        case fit::Outcome::bad_samples:
            return "bad_samples";
    }
    return {};
}

json json_of(const decay::LawModel& model, double effective_samples) {
    json out = {{"name", decay::name_of(model.kind)},  {"outcome", word_of(model.fit.outcome)},
                {"reason", model.fit.reason},          {"not_told_apart", model.fit.merged},
                {"parameters", json::object()},        {"standard_errors", json::object()},
                {"standings", json::object()},         {"rss", nullptr},
                {"aicc", record::or_null(model.aicc)}, {"effective_samples", effective_samples},
                {"extrapolated", json::array()}};
    for (const fit::Parameter& p : model.fit.parameters) {
        out["parameters"][p.name] = p.value;
        out["standard_errors"][p.name] = record::or_null(p.standard_error);
        out["standings"][p.name] = word_of(p.standing);
    }
    if (!model.fit.parameters.empty()) out["rss"] = model.fit.rss;
    return out;
}

json json_of(const std::string& name, const Result<decay::LawChoice>& choice) {
    json out = {{"file", name}, {"runs", json::array()}, {"error", nullptr}};
    if (!choice) {
        const Error& error = choice.error();
        out["error"] = {{"what", error.what}, {"where", error.where}, {"remedy", error.remedy}};
        return out;
    }
    json run = {
        {"chosen", nullptr}, {"adequate", record::or_null(choice->adequate)}, {"models", json::array()}};
    if (choice->chosen) run["chosen"] = decay::name_of(choice->models[*choice->chosen].kind);
    for (const decay::LawModel& model : choice->models)
        run["models"].push_back(json_of(model, choice->effective_samples));
    out["runs"].push_back(std::move(run));
    return out;
}

std::string text_of(const std::string& name, const decay::LawChoice& choice) {
    std::string out = name + "\n";
    for (std::size_t i = 0; i < choice.models.size(); ++i) {
        const decay::LawModel& model = choice.models[i];
        out += fmt::format("  {}{}{}\n", padded(std::string(decay::name_of(model.kind)), 20),
                           model.aicc ? "AICc " + fixed_text(*model.aicc, 1) : "not determined",
                           choice.chosen == i ? "   chosen" : "");
        if (!model.fit.reason.empty()) out += fmt::format("    {}\n", model.fit.reason);
        if (!model.fit.merged.empty()) out += fmt::format("    cannot be told apart: {}\n", model.fit.merged);
        for (const fit::Parameter& p : model.fit.parameters)
            out += fmt::format(
                "    {}{}{}\n", padded(p.name, 20), uncertain_text(p.value, p.standard_error),
                p.standing == fit::Standing::free ? "" : fmt::format("   {}", word_of(p.standing)));
    }
    if (!choice.chosen)
        out += "  No law is chosen: each has parameters that this curve does not determine.\n";
    else if (choice.adequate && !*choice.adequate)
        out +=
            "  None of these describes the curve: residuals of the best stay on one side for longer than its "
            "noise does.\n";
    else if (!choice.adequate)
        out +=
            "  Whether the law describes the curve was not judged: that takes 64 evenly spaced samples or "
            "more.\n";
    return out;
}

}  // namespace

int fit(const FitOptions& options) {
    const auto request = request_of(options);
    if (!request) return complain(request.error());
    json files = json::array();
    std::size_t refused = 0;
    for (const std::string& name : options.files) {
        const auto choice = work::fit_pairs(name, *request);
        if (!choice) {
            ++refused;
            complain(choice.error());
        }
        if (options.json)
            files.push_back(json_of(name, choice));
        else if (choice)
            fmt::print("{}\n", text_of(name, *choice));
    }
    if (options.json)
        fmt::print("{}", record::canonical_text({{"schema", "ebbtide.fit/1"}, {"files", std::move(files)}}));
    if (refused == 0) return ok;
    return refused == options.files.size() ? bad_input : some_refused;
}

}  // namespace ebbtide::cli
