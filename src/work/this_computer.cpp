#include "work/this_computer.hpp"

#include <fmt/format.h>
#include <sys/utsname.h>

#include <chrono>
#include <fstream>

#include "basis/sha256.hpp"
#include "basis/version.hpp"
#include "lanes/vector_target.hpp"
#include "work/order_files.hpp"

namespace ebbtide::work {
namespace {

constexpr std::uint64_t largest_program = std::uint64_t{1} << 30;

#ifdef __clang__
constexpr const char* compiler = "clang " __clang_version__;
#else
constexpr const char* compiler = "g++ " __VERSION__;
#endif

/// What stands behind the first of these keys in a file of lines "key<separator>value"; empty without it.
std::string value_in(const char* path, const std::string& key, char separator) {
    std::ifstream file(path);
    for (std::string line; std::getline(file, line);) {
        const std::size_t at = line.find(separator);
        if (at == std::string::npos || !line.starts_with(key)) continue;
        const std::size_t from = line.find_first_not_of(" \"", at + 1), to = line.find_last_not_of(" \"");
        return from == std::string::npos || to < from ? "" : line.substr(from, to - from + 1);
    }
    return "";
}

std::string joined(std::initializer_list<std::string> parts) {
    std::string text;
    for (const std::string& part : parts)
        if (!part.empty()) text += (text.empty() ? "" : ", ") + part;
    return text;
}

}  // namespace

validation::Computer this_computer() {
    utsname system{};
    (void)::uname(&system);
    const auto program = read_whole("/proc/self/exe", largest_program);
    return {system.nodename,
            std::string("ebbtide ") + version_text,
            program ? sha256_hex(*program) : "",
            compiler,
            joined({value_in("/proc/cpuinfo", "model name", ':'), system.machine}),
            lanes::vector_target(),
            joined({value_in("/etc/os-release", "PRETTY_NAME", '='),
                    std::string(system.sysname) + " " + system.release})};
}

Instant time_now() {
    const auto since = std::chrono::system_clock::now().time_since_epoch();
    return {std::chrono::duration_cast<std::chrono::nanoseconds>(since).count()};
}

}  // namespace ebbtide::work
