// One run as a file.

#include <fmt/format.h>

#include "server/handlers.hpp"
#include "work/run_export.hpp"

namespace ebbtide::server {

Reply export_run(const Call& call) {
    const auto format = work::run_format_named(call.parameter("format", "csv"));
    if (!format) return refused("there is no such format", "format", "Ask for csv, svg, png or hdf5");
    const auto at = run_named(call);
    if (!at) return at.instead;
    std::unique_lock drawing(call.held.drawing, std::defer_lock);
    if (*format == work::RunFormat::png) drawing.lock();
    auto file = work::export_run(*at->order.kept->files, at->order.kept->order, at->run(), *format);
    if (!file) return conflict(file.error());
    return {200,
            file->media_type,
            std::move(file.value().bytes),
            {{"Content-Disposition", fmt::format("attachment; filename=\"{}\"", file->name)}}};
}

}  // namespace ebbtide::server
