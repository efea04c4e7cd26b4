#include <fmt/format.h>

#include <nlohmann/json.hpp>

#include "cli/recordings.hpp"
#include "record/json.hpp"
#include "work/live_json.hpp"
#include "work/reference_check.hpp"

namespace ebbtide::cli {
namespace {

using nlohmann::json;

json json_of(const std::string& name, const Result<work::MeasuredFile>& file) {
    json out = {{"file", name},          {"recording", nullptr},      {"format", nullptr},
                {"dialect", nullptr},    {"channels", json::array()}, {"notices", json::array()},
                {"runs", json::array()}, {"flags", json::array()},    {"error", nullptr}};
    if (!file) {
        const Error& error = file.error();
        out["error"] = {{"what", error.what}, {"where", error.where}, {"remedy", error.remedy}};
        return out;
    }
    const record::RecordingRecord& recording = file->recording;
    out["recording"] = recording.sha256;
    out["format"] = recording.format;
    out["dialect"] = recording.dialect;
    for (const auto& channel : recording.channels) out["channels"].push_back(record::json_of(channel));
    for (const auto& notice : recording.notices) out["notices"].push_back(record::json_of(notice));
    for (const auto& flag : file->flags) out["flags"].push_back(record::json_of(flag));
    for (const work::MeasuredRun& run : file->runs) out["runs"].push_back(work::json_of(run));
    return out;
}

}  // namespace

int measure(const MeasureOptions& options) {
    recording::ReadOptions read = options.read;
    auto request = measure_request(options.levels, options.bench_file, read);
    if (!request) return complain(request.error());
    request->laws.emplace();
    request->monte_carlo = true;
    if (options.check_standard) {
        if (!request->bench || !request->bench->check)
            return complain(
                {Fault::bad_input, "the known time of a check standard is the bench file's to state",
                 "--check-standard", "Name a bench file with a table [check]: --bench bench.toml"});
        plan::add_once(request->rules.levels, request->bench->check->standard_level);
    }

    json files = json::array();
    const int code = over_files<work::MeasuredFile>(
        files_named(options.files),
        [&](const std::string& name) -> Result<work::MeasuredFile> {
            auto source = recording::open(name, read);
            if (!source) return source.error();
            auto measured = work::measure(**source, *request);
            if (measured && options.check_standard)
                for (work::MeasuredRun& run : measured->runs)
                    work::hold_against_check(run, plan::Mounted::standard, request->bench);
            return measured;
        },
        [&](const std::string& name, const Result<work::MeasuredFile>& file) {
            if (options.json)
                files.push_back(json_of(name, file));
            else if (file)
                fmt::print("{}\n", text_of(*file));
        });
    if (options.json)
        fmt::print("{}",
                   record::canonical_text({{"schema", "ebbtide.measure/1"}, {"files", std::move(files)}}));
    return code;
}

}  // namespace ebbtide::cli
