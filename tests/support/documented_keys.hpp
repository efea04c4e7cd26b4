#pragma once
// Keys of JSON as the format pages list them, and as the program writes them.

#include <gtest/gtest.h>

#include <nlohmann/json.hpp>
#include <set>
#include <sstream>
#include <string>

#include "support/program.hpp"

namespace ebbtide::testing_support {

using Keys = std::set<std::string>;

/// Words in backquotes in the first column of the tables under a heading.
inline Keys documented(const std::string& file, const std::string& heading) {
    const std::string text = "\n" + bytes_of(std::string(EBBTIDE_SOURCE_DIR "/docs/formats/") + file);
    const std::size_t begin = text.find("\n" + heading + "\n");
    EXPECT_NE(begin, std::string::npos) << heading;
    if (begin == std::string::npos) return {};
    std::istringstream lines(text.substr(begin + 1, text.find("\n#", begin + 1 + heading.size()) - begin));
    Keys keys;
    for (std::string line; std::getline(lines, line);) {
        if (!line.starts_with("| `")) continue;
        const std::string first = line.substr(0, line.find('|', 2));
        for (std::size_t at = first.find('`'); at != std::string::npos;) {
            const std::size_t close = first.find('`', at + 1);
            keys.insert(first.substr(at + 1, close - at - 1));
            at = first.find('`', close + 1);
        }
    }
    return keys;
}

inline Keys keys_of(const nlohmann::json& object) {
    Keys keys;
    for (const auto& [key, value] : object.items()) keys.insert(key);
    return keys;
}

}  // namespace ebbtide::testing_support
