#include <fmt/format.h>
#include <unistd.h>

#include <filesystem>
#include <nlohmann/json.hpp>

#include "cli/commands.hpp"
#include "cli/print.hpp"
#include "paperwork/paperwork.hpp"
#include "record/json.hpp"
#include "work/measure.hpp"
#include "work/order_files.hpp"

namespace ebbtide::cli {
namespace {

using nlohmann::json;

Result<std::vector<plan::Level>> levels_of(const std::string& list) {
    std::vector<plan::Level> levels;
    for (std::size_t at = 0; at <= list.size();) {
        const std::size_t comma = std::min(list.find(',', at), list.size());
        auto level = plan::parse_level(list.substr(at, comma - at));
        if (!level) {
            Error error = level.error();
            error.where = "--levels";
            return error;
        }
        if (level->value == 0)
            return Error{
                Fault::bad_input, "a level of zero needs a stated floor: an exponential never reaches zero",
                "--levels", "Ask for a small level instead (0.01), or use a method that states a floor"};
        levels.push_back(std::move(level).value());
        at = comma + 1;
    }
    return levels;
}

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
    for (const work::MeasuredRun& run : file->runs) {
        json one = record::json_of(run.figures);
        one["run"] = run.run_id;
        one["flags"] = json::array();
        for (const plan::Flag& flag : run.flags) one["flags"].push_back(record::json_of(flag));
        out["runs"].push_back(std::move(one));
    }
    return out;
}

Result<work::MeasureRequest> request_of(const MeasureOptions& options, recording::ReadOptions& read) {
    work::MeasureRequest request{work::usual_rules(), {}};
    if (options.levels) {
        auto levels = levels_of(*options.levels);
        if (!levels) return levels.error();
        request.rules.levels = std::move(levels).value();
    }
    if (options.bench_file.empty()) return request;
    auto text = work::read_whole(options.bench_file, 4u << 20);
    if (!text) return text.error();
    auto bench = paperwork::parse_bench(*text, options.bench_file);
    if (!bench) return bench.error();
    const auto usual = [](std::string& own, const std::string& name) {
        if (own.empty()) own = name;
    };
    usual(read.specimen, bench->channels.specimen);
    usual(read.electrode, bench->channels.electrode);
    usual(read.marker, bench->channels.marker);
    usual(read.time, bench->channels.time);
    if (!read.sample_interval_s) read.sample_interval_s = bench->sample_interval_s;
    request.bench = std::move(bench).value();
    return request;
}

Result<work::MeasuredFile> measure_one(const std::string& name, const work::MeasureRequest& request,
                                       const recording::ReadOptions& read) {
    auto source = recording::open(name, read);
    if (!source) return source.error();
    return work::measure(**source, request);
}

/// A folder stands for the files in it, one after the other; one that holds none is a name that is refused.
std::vector<std::pair<std::string, std::optional<Error>>> files_named(const std::vector<std::string>& names) {
    std::vector<std::pair<std::string, std::optional<Error>>> files;
    for (const std::string& name : names) {
        std::error_code ignored;
        if (!std::filesystem::is_directory(name, ignored)) {
            files.emplace_back(name, std::nullopt);
            continue;
        }
        const auto inside = work::names_in(name);
        if (!inside) files.emplace_back(name, inside.error());
        if (inside && inside->empty())
            files.emplace_back(name, Error{Fault::bad_input, "holds no files", name,
                                           "Name the folder in which the recordings lie"});
        if (inside)
            for (const std::string& file : *inside)
                files.emplace_back((std::filesystem::path(name) / file).string(), std::nullopt);
    }
    return files;
}

}  // namespace

int measure(const MeasureOptions& options) {
    recording::ReadOptions read = options.read;
    const auto request = request_of(options, read);
    if (!request) return complain(request.error());

    json files = json::array();
    std::size_t refused = 0;
    const bool watched = isatty(STDERR_FILENO) != 0;
    const auto named = files_named(options.files);
    for (std::size_t i = 0; i < named.size(); ++i) {
        const auto& [name, wrong] = named[i];
        if (watched) tell(fmt::format("\rreading {} of {} \x1b[K", i + 1, named.size()));
        const auto file = wrong ? Result<work::MeasuredFile>(*wrong) : measure_one(name, *request, read);
        if (watched) tell("\r\x1b[K");
        if (!file) {
            ++refused;
            complain(file.error());
        }
        if (options.json)
            files.push_back(json_of(name, file));
        else if (file)
            fmt::print("{}\n", text_of(*file));
    }
    if (options.json)
        fmt::print("{}",
                   record::canonical_text({{"schema", "ebbtide.measure/1"}, {"files", std::move(files)}}));
    if (refused == 0) return ok;
    return refused == named.size() ? bad_input : some_refused;
}

}  // namespace ebbtide::cli
