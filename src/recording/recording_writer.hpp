#pragma once
// A recording written block by block: the one interface between samples and the file formats we write.

#include <cstdint>
#include <string>
#include <utility>
#include <vector>

#include "basis/result.hpp"
#include "recording/source.hpp"

namespace ebbtide::recording {

/// What the samples were read from, as far as it is known only once all of it was read.
struct Original {
    std::string sha256;       ///< of its bytes; empty when they were not hashed
    std::uint64_t bytes = 0;  ///< 0 where the samples came from no file
    /// As Description::metadata stands at the end: reading may have found more lines than the opening did.
    std::vector<std::pair<std::string, std::string>> metadata = {};
    /// What was noticed in all of it; formats that keep each notice with its samples need not write them
    /// again.
    std::vector<trace::Notice> notices = {};
};

/// Takes one recording from its beginning to its end, in the order describe(), block() as often as there are
/// blocks, finish(). Another order is a broken invariant. After an error nothing more is written. One thread.
class RecordingWriter {
  public:
    virtual ~RecordingWriter() = default;
    /// Once, before any block. Errors: cannot be written; more channels or text than the format holds.
    [[nodiscard]] virtual Result<Done> describe(const Description& description) = 0;
    /// Samples as Source::next() hands them out: channels in the order of the description, times in seconds,
    /// values times factor_to_SI. They come back from the written file exactly, bit for bit.
    [[nodiscard]] virtual Result<Done> block(const Block& block) = 0;
    /// Once. When it returns without error, the file is whole and on the disk.
    [[nodiscard]] virtual Result<Done> finish(const Original& original) = 0;
};

}  // namespace ebbtide::recording
