#include <fmt/format.h>

#include "cli/commands.hpp"
#include "cli/print.hpp"
#include "recording/recording_file.hpp"
#include "work/convert.hpp"

namespace ebbtide::cli {

int convert(const ConvertOptions& options) {
    // Before a long recording is read.
    if (const auto kind = recording::file_kind_of(options.output); !kind) return complain(kind.error());
    auto source = recording::open(options.file, options.read);
    if (!source) return complain(source.error());
    const auto converted = work::convert_to_file(**source, options.output);
    if (!converted) return complain(converted.error());
    fmt::print("{}: {} samples in {} {}\n", options.output, converted->samples, converted->segments,
               converted->segments == 1 ? "segment" : "segments");
    for (const trace::Notice& notice : converted->notices)
        fmt::print("  {}{}: {}{}\n", trace::name_of(notice.kind),
                   notice.line > 0 ? fmt::format(", line {}", notice.line) : "", notice.text,
                   notice.count > 1 ? fmt::format(" ({} times)", notice.count) : "");
    fmt::print("  original: {} bytes, SHA-256 {}\n", converted->bytes, converted->sha256);
    return ok;
}

}  // namespace ebbtide::cli
