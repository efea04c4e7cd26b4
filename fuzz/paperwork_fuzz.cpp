// Any bytes as a method, specification, bench and order: refused with an Error that says something, or taken.

#include <cstddef>
#include <cstdint>
#include <cstdlib>
#include <string_view>

#include "paperwork/paperwork.hpp"

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
    using namespace ebbtide::paperwork;
    const std::string_view text(reinterpret_cast<const char*>(data), size);
    const auto speaks = [](const auto& result) {
        if (!result.ok() && result.error().text().empty()) std::abort();
    };
    speaks(parse_method(text, "fuzz"));
    speaks(parse_specification(text, "fuzz"));
    speaks(parse_bench(text, "fuzz"));
    speaks(parse_order(text, "fuzz"));
    return 0;
}
