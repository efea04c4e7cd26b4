#include "cli/recordings.hpp"

#include <filesystem>
#include <utility>

#include "paperwork/paperwork.hpp"
#include "work/order_files.hpp"

namespace ebbtide::cli {

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

Result<work::MeasureRequest> measure_request(const std::optional<std::string>& levels,
                                             const std::string& bench_file, recording::ReadOptions& read) {
    work::MeasureRequest request{work::usual_rules(), {}};
    if (levels) {
        auto asked = levels_of(*levels);
        if (!asked) return asked.error();
        request.rules.levels = std::move(asked).value();
    }
    if (bench_file.empty()) return request;
    auto text = work::read_whole(bench_file, 4u << 20);
    if (!text) return text.error();
    auto bench = paperwork::parse_bench(*text, bench_file);
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

std::vector<NamedFile> files_named(const std::vector<std::string>& names) {
    std::vector<NamedFile> files;
    for (const std::string& name : names) {
        std::error_code ignored;
        if (!std::filesystem::is_directory(name, ignored)) {
            files.push_back({name, {}});
            continue;
        }
        const auto inside = work::names_in(name);
        if (!inside) files.push_back({name, inside.error()});
        if (inside && inside->empty())
            files.push_back({name, Error{Fault::bad_input, "holds no files", name,
                                         "Name the folder in which the recordings lie"}});
        if (inside)
            for (const std::string& file : *inside)
                files.push_back({(std::filesystem::path(name) / file).string(), {}});
    }
    return files;
}

}  // namespace ebbtide::cli
