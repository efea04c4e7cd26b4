#include <stdexcept>

#include "paperwork/paperwork.hpp"
#include "paperwork/shipped_files.hpp"

namespace ebbtide::paperwork {
namespace {

Shipped::Kind kind_of(const ShippedFile& file) {
    if (file.toml.find("schema = \"ebbtide.method/1\"") != std::string_view::npos)
        return Shipped::Kind::method;
    if (file.toml.find("schema = \"ebbtide.specification/1\"") != std::string_view::npos)
        return Shipped::Kind::specification;
    throw std::logic_error("shipped file without a known schema: " + std::string(file.id));
}

std::vector<Shipped> made() {
    std::vector<Shipped> out;
    for (const ShippedFile& file : shipped_files())
        out.push_back({kind_of(file), std::string(file.id), std::string(file.toml)});
    return out;
}

}  // namespace

const std::vector<Shipped>& shipped() {
    static const std::vector<Shipped> files = made();
    return files;
}

}  // namespace ebbtide::paperwork
