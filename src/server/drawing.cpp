#include "server/drawing.hpp"

#include "report/html_writer.hpp"

namespace ebbtide::server {

Reply drawing(const report::Picture& picture) {
    constexpr std::string_view opening = "<svg ";
    return {200,
            "image/svg+xml",
            "<svg xmlns=\"http://www.w3.org/2000/svg\" " + report::svg_of(picture).substr(opening.size()),
            {}};
}

}  // namespace ebbtide::server
