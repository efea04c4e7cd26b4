#include <fmt/format.h>

#include <nlohmann/json.hpp>

#include "basis/number_text.hpp"
#include "cli/recordings.hpp"
#include "record/json.hpp"
#include "work/fit_curve.hpp"
#include "work/fit_runs.hpp"

namespace ebbtide::cli {
namespace {

using nlohmann::json;

Result<decay::Offset> offset_of(const std::string& text) {
    using Kind = decay::Offset::Kind;
    if (text == "free") return decay::Offset{Kind::free, 0};
    if (text == "zero") return decay::Offset{Kind::stated, 0};
    if (text == "amplitude") return decay::Offset{Kind::minus_amplitude, 0};
    if (const auto value_V = parse_number(text)) return decay::Offset{Kind::stated, *value_V};
    return Error{Fault::bad_input, fmt::format("'{}' is no offset", text), "--offset",
                 "Say free, zero, amplitude, or a number of volts"};
}

Result<decay::LawQuestion> question_of(const FitOptions& options) {
    decay::LawQuestion question;
    question.robust = options.robust;
    if (options.law != "auto") {
        const auto kind = decay::law_kind_of(options.law);
        if (!kind) {
            std::string known = "auto";
            for (const decay::LawKind one : decay::all_law_kinds())
                known += fmt::format(", {}", decay::name_of(one));
            return Error{Fault::bad_input, fmt::format("no law is called '{}'", options.law), "--law",
                         fmt::format("There are: {}", known)};
        }
        question.kinds = {*kind};
    }
    auto offset = offset_of(options.offset.value_or(options.pairs.empty() ? "zero" : "free"));
    if (!offset) return offset.error();
    question.offset = *offset;
    return question;
}

Result<work::SigmaColumn> sigma_of(const std::optional<std::string>& text) {
    if (!text) return work::SigmaColumn::none;
    if (*text == "absolute") return work::SigmaColumn::absolute;
    if (*text == "relative") return work::SigmaColumn::relative;
    return Error{Fault::bad_input, fmt::format("'{}' is neither absolute nor relative", *text), "--sigma",
                 "Say absolute when the third column is the standard deviation in volts, relative when only "
                 "its proportions are known"};
}

/// Pairs and recordings have different options; those of the other kind would be ignored in silence.
std::optional<Error> problem_of(const FitOptions& options) {
    const bool pairs = !options.pairs.empty();
    if (pairs == !options.files.empty())
        return Error{Fault::bad_input,
                     pairs ? "recordings and files of pairs are both named" : "no file is named", "fit",
                     "Name recordings, or files of pairs after --xy"};
    if (pairs && !options.bench_file.empty())
        return Error{Fault::bad_input, "bare pairs know of no bench", "--bench",
                     "Leave it away, or name a recording instead of --xy"};
    if (pairs && options.law == "hanging_sheet")
        return Error{Fault::bad_input, "hanging_sheet needs the fixture's dimensions, and pairs have none",
                     "--law", "Name a recording instead of --xy, and a bench file with --bench"};
    if (!pairs && options.sigma)
        return Error{Fault::bad_input, "recordings have no column of standard deviations", "--sigma",
                     "Leave it away: the noise is estimated from the recording"};
    return {};
}

json json_of(const std::string& name, const Result<work::FittedFile>& file) {
    json out = {{"file", name}, {"runs", json::array()}, {"flags", json::array()}, {"error", nullptr}};
    if (!file) {
        const Error& error = file.error();
        out["error"] = {{"what", error.what}, {"where", error.where}, {"remedy", error.remedy}};
        return out;
    }
    for (const plan::Flag& flag : file->flags) out["flags"].push_back(record::json_of(flag));
    for (const work::FittedRun& run : file->runs) {
        json one = record::json_of(run.law);
        one["run"] = run.run_id.empty() ? json() : json(run.run_id);
        one["flags"] = json::array();
        for (const plan::Flag& flag : run.flags) one["flags"].push_back(record::json_of(flag));
        out["runs"].push_back(std::move(one));
    }
    return out;
}

using FitOne = std::function<Result<work::FittedFile>(const std::string& name)>;

Result<FitOne> fit_pairs_with(const FitOptions& options, const decay::LawQuestion& question) {
    const auto sigma = sigma_of(options.sigma);
    if (!sigma) return sigma.error();
    work::FitRequest request{question, *sigma, work::usual_rules().levels};
    if (options.levels) {
        auto levels = levels_of(*options.levels);
        if (!levels) return levels.error();
        request.levels = std::move(levels).value();
    }
    return FitOne([request](const std::string& name) -> Result<work::FittedFile> {
        auto law = work::fit_pairs(name, request);
        if (!law) return law.error();
        return work::FittedFile{{{"", plan::Polarity::positive, std::move(law).value(), {}}}, {}};
    });
}

Result<FitOne> fit_recordings_with(const FitOptions& options, const decay::LawQuestion& question) {
    recording::ReadOptions read = options.read;
    auto request = measure_request(options.levels, options.bench_file, read);
    if (!request) return request.error();
    request->laws = question;
    if (const auto problem = work::problem_of(question, request->bench)) return *problem;
    return FitOne([request = *request, read](const std::string& name) -> Result<work::FittedFile> {
        auto source = recording::open(name, read);
        if (!source) return source.error();
        return work::fit_runs(**source, request);
    });
}

}  // namespace

int fit(const FitOptions& options) {
    if (const auto problem = problem_of(options)) return complain(*problem);
    const auto question = question_of(options);
    if (!question) return complain(question.error());
    const bool pairs = !options.pairs.empty();
    const auto fit_one = pairs ? fit_pairs_with(options, *question) : fit_recordings_with(options, *question);
    if (!fit_one) return complain(fit_one.error());
    json files = json::array();
    const int code =
        over_files<work::FittedFile>(files_named(pairs ? options.pairs : options.files), *fit_one,
                                     [&](const std::string& name, const Result<work::FittedFile>& file) {
                                         if (options.json)
                                             files.push_back(json_of(name, file));
                                         else if (file)
                                             fmt::print("{}\n", text_of(name, *file));
                                     });
    if (options.json)
        fmt::print("{}", record::canonical_text({{"schema", "ebbtide.fit/1"}, {"files", std::move(files)}}));
    return code;
}

}  // namespace ebbtide::cli
