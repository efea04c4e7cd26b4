#include "cli/report_file.hpp"

#include <fmt/format.h>

#include <filesystem>
#include <fstream>

namespace ebbtide::cli {

std::optional<Error> fault_of_ending(const std::string& output) {
    if (output.ends_with(".pdf") || output.ends_with(".html")) return {};
    return Error{Fault::bad_input, fmt::format("'{}' is neither .pdf nor .html", output), "--output",
                 "Name a file that ends in .pdf (with the record attached) or .html"};
}

Result<Done> write_file(const std::string& path, const std::string& bytes) {
    const std::string part = path + ".part";
    std::error_code none;
    if (std::filesystem::exists(std::filesystem::symlink_status(part, none)))
        return Error{Fault::bad_input, "is in the way: the report is written there before it gets its name",
                     part, "Keep it under another name, or remove it"};
    const Error cannot{Fault::unreadable, "cannot be written", path,
                       "Check that the folder is there, writable and not full"};
    {
        std::ofstream file(part, std::ios::binary | std::ios::trunc);
        file.write(bytes.data(), static_cast<std::streamsize>(bytes.size()));
        file.close();
        if (!file) {
            std::error_code ignored;
            std::filesystem::remove(part, ignored);
            return cannot;
        }
    }
    std::error_code fault;
    std::filesystem::rename(part, path, fault);
    if (fault) {
        std::error_code ignored;
        std::filesystem::remove(part, ignored);
        return cannot;
    }
    return Done{};
}

}  // namespace ebbtide::cli
