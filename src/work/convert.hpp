#pragma once
// Writes a recording again in another format: the same samples, so the same runs and figures.

#include <cstdint>
#include <string>

#include "basis/result.hpp"
#include "recording/recording_writer.hpp"
#include "recording/source.hpp"

namespace ebbtide::work {

struct Converted {
    std::string sha256;  ///< of the original
    std::uint64_t bytes = 0;
    std::uint64_t samples = 0;  ///< of all channels
    std::size_t segments = 0;
    std::vector<trace::Notice> notices;  ///< one a kind and column, counted
};

/// Reads `source` to its end into `writer`. Memory: one block. Errors: of the source, of the writer; the
/// source holds only the runs that were kept of a larger recording, which would lose where they were cut.
[[nodiscard]] Result<Converted> convert(recording::Source& source, recording::RecordingWriter& writer);

/// The same into a file whose ending names its kind. It is written beside `output` and moved over it, so that
/// a failure leaves what was there. More errors: an ending of no kind; the output cannot be written.
[[nodiscard]] Result<Converted> convert_to_file(recording::Source& source, const std::string& output);

}  // namespace ebbtide::work
