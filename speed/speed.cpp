// The speed table. Arguments name rows; without any, all rows run. `million FILE` fills a ledger and measures
// nothing.

#include <fmt/chrono.h>
#include <fmt/core.h>
#include <algorithm>
#include <chrono>
#include <cstdio>
#include <exception>
#include <filesystem>
#include <fstream>
#include <thread>
#include <vector>

#include "row.hpp"

namespace {

std::string processor() {
    std::ifstream info("/proc/cpuinfo");
    for (std::string line; std::getline(info, line);)
        if (line.starts_with("model name")) return line.substr(line.find(':') + 2);
    return "unknown processor";
}

std::string commit() {
    std::FILE* git = popen("git -C '" EBBTIDE_SOURCE_DIR "' describe --always --dirty 2>/dev/null", "r");
    char text[64] = "";
    const bool read = git && std::fgets(text, sizeof text, git);
    if (git) pclose(git);
    return read ? std::string(text, std::find(text, text + sizeof text, '\n')) : "unknown";
}

}  // namespace

int main(int count, char** words) try {
    using namespace ebbtide::speed;
    const std::vector<std::pair<std::string, Row (*)(const std::string&)>> rows{
        {"text", text_row},
        {"archive", archive_row},
        {"cutter", cutter_row},
        {"two_exponentials", two_exponentials_row},
        {"hard_set", hard_set_row},
        {"stretched", stretched_row},
        {"monte_carlo", monte_carlo_row},
        {"lot", lot_row},
        {"lot_shares", lot_shares_row},
        {"sheet", sheet_row},
        {"sheet_field", sheet_field_row},
        {"inversion", inversion_row},
        {"ledger_writes", ledger_writes_row},
        {"ledger_trend", ledger_trend_row},
        {"ledger_find", ledger_find_row},
        {"page_frames", page_frames_row}};
    std::string names;
    for (const auto& [name, row] : rows) names += (names.empty() ? "" : ", ") + name;
    const std::vector<std::string> wanted(words + 1, words + count);
    if (wanted.size() == 2 && wanted[0] == "million") {
        fill_million(wanted[1]);
        return 0;
    }
    for (const std::string& name : wanted)
        if (std::ranges::find(rows, name, [](const auto& row) { return row.first; }) == rows.end()) {
            fmt::print(stderr, "no row '{}'; there are: {}\n", name, names);
            return 2;
        }

    const std::string folder = std::filesystem::temp_directory_path() / "ebbtide-speed";
    std::filesystem::create_directories(folder);
    bool all_met = true;
    for (const auto& [name, row] : rows)
        if (wanted.empty() || std::ranges::find(wanted, name) != wanted.end())
            all_met = run(row(folder)) && all_met;
    std::filesystem::remove_all(folder);

    fmt::print("\nmachine     {}, {} cores\ncompiler    g++ {}\ndate        {:%Y-%m-%d}\ncommit      {}\n",
               processor(), std::thread::hardware_concurrency(), __VERSION__,
               fmt::gmtime(std::chrono::system_clock::to_time_t(std::chrono::system_clock::now())), commit());
    fmt::print("{}\n", all_met ? "every goal met" : "NOT every goal met");
    return all_met ? 0 : 1;
} catch (const std::exception& broken) {
    std::fprintf(stderr, "speed: %s\n", broken.what());
    return 70;
}
