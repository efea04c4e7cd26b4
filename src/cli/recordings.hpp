#pragma once
// What the commands on recordings have in common: their files, levels and bench.

#include <fmt/format.h>
#include <unistd.h>

#include <functional>
#include <optional>
#include <string>
#include <vector>

#include "cli/commands.hpp"
#include "cli/print.hpp"
#include "work/measure.hpp"

namespace ebbtide::cli {

/// Of "0.5,1/e,0.1". Errors: a level that is none, or zero.
[[nodiscard]] Result<std::vector<plan::Level>> levels_of(const std::string& list);

/// The usual rules, or `levels` where they are named, and the bench where one is; its channel names go into
/// `read` where that names none.
[[nodiscard]] Result<work::MeasureRequest> measure_request(const std::optional<std::string>& levels,
                                                           const std::string& bench_file,
                                                           recording::ReadOptions& read);

/// A folder stands for the files in it, one after the other; one that holds none is a name that is refused.
struct NamedFile {
    std::string name;
    std::optional<Error> wrong;
};
[[nodiscard]] std::vector<NamedFile> files_named(const std::vector<std::string>& names);

/// Works on each file and shows its answer; refusals are complained of. Returns the exit code.
template <class Answer>
int over_files(const std::vector<NamedFile>& files,
               const std::function<Result<Answer>(const std::string& name)>& work,
               const std::function<void(const std::string& name, const Result<Answer>& answer)>& show) {
    std::size_t refused = 0, number = 0;
    const bool watched = isatty(STDERR_FILENO) != 0;
    for (const auto& [name, wrong] : files) {
        if (watched) tell(fmt::format("\rreading {} of {} \x1b[K", ++number, files.size()));
        const auto answer = wrong ? Result<Answer>(*wrong) : work(name);
        if (watched) tell("\r\x1b[K");
        if (!answer) {
            ++refused;
            complain(answer.error());
        }
        show(name, answer);
    }
    if (refused == 0) return ok;
    return refused == files.size() ? bad_input : some_refused;
}

}  // namespace ebbtide::cli
