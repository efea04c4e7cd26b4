#pragma once
// A recording read block by block: the one interface between files (or pipes) and everything above.

#include <cstdint>
#include <memory>
#include <optional>
#include <string>
#include <vector>

#include "basis/instant.hpp"
#include "basis/result.hpp"
#include "trace/channel.hpp"
#include "trace/cutter.hpp"
#include "transport/byte_stream.hpp"

namespace ebbtide::recording {

/// What the person may state when the recording itself does not say. Empty means: find out.
struct ReadOptions {
    std::string specimen;  ///< heading, or column number from 1, of the specimen voltage
    std::string electrode;
    std::string marker;
    std::string time;
    std::optional<double>
        sample_interval_s;  ///< for recordings without a time column; set aside one there is
    std::string time_unit;  ///< "s", "ms", "us", "ns", "min", "h": settles a time column that states no unit
    bool hash = true;       ///< false leaves sha256() empty; hashing costs more time than reading
};

/// What the reader understood, for the record and for people.
struct Description {
    std::string file;
    std::string format;   ///< "delimited text"
    std::string dialect;  ///< "UTF-8, ';' between columns, decimal comma, 3 lines above, units in a row"
    std::vector<std::pair<std::string, std::string>> metadata;  ///< key, value lines, as recorded
    std::vector<trace::ChannelDescription> channels;
    std::optional<Instant> origin;  ///< absolute time of time zero, when the recording states date and zone
};

struct ChannelBlock {
    std::vector<double> time_s;  ///< seconds from the segment's zero, as recorded (factor applied)
    std::vector<double> value;   ///< recorded number times factor_to_SI
};

/// A segment that is exactly one run, cut before. Sample numbers of the drive channel count from 0.
struct KeptRun {
    trace::RunSpan span;  ///< levels in volts, as they were cut
    double base = 0;      ///< the same levels as recorded numbers, for those who apply another gain
    double top = 0;       ///< base plus height, on its side
};

/// Consecutive samples of all channels, in the order of Description::channels.
struct Block {
    bool starts_segment =
        false;  ///< time restarts here: nothing before belongs to the same run; true at first
    std::vector<ChannelBlock> channels;
    std::vector<trace::Notice> notices;
    bool ends_segment = false;        ///< no more samples of this segment come; not every format knows
    std::optional<KeptRun> run = {};  ///< with starts_segment: the segment is this run
};

/// What a recording says of the larger one whose runs it keeps.
struct KeptRuns {
    std::string format;   ///< of the larger one
    std::string dialect;  ///< of the larger one
    std::string sha256;   ///< of all its bytes; empty while the end was not read
    std::uint64_t bytes = 0;
    std::vector<trace::Notice> notices = {};  ///< of all of it
};

/// Reads one recording from its beginning to its end, once. Memory stays bounded whatever the recording's
/// size. One thread.
class Source {
  public:
    virtual ~Source() = default;
    [[nodiscard]] virtual const Description& description() const = 0;
    /// Fills `block` (its storage is reused); false at the end. A block never spans the start of a segment.
    /// The last block may hold notices and no samples. Errors: the file stops answering; a line longer than 1
    /// MiB.
    [[nodiscard]] virtual Result<bool> next(Block& block) = 0;
    /// SHA-256 of all bytes read, valid after next() returned false; empty when hashing was switched off.
    [[nodiscard]] virtual std::string sha256() = 0;
    [[nodiscard]] virtual std::uint64_t bytes() const = 0;
    /// Present when only runs of a larger recording are here; whole after next() returned false.
    [[nodiscard]] virtual std::optional<KeptRuns> kept_runs() const { return {}; }
};

/// Opens a file, or standard input for "-". The kind of file is recognised by its content.
/// Errors: cannot be read; empty; binary; no columns of numbers; channels cannot be told apart (says what was
/// seen and which option settles it); no time column and no sample interval.
[[nodiscard]] Result<std::unique_ptr<Source>> open(const std::string& path, const ReadOptions& options);

/// The same for bytes in memory; `name` stands for the file in the description and in errors.
[[nodiscard]] Result<std::unique_ptr<Source>> open_bytes(std::string bytes, const std::string& name,
                                                         const ReadOptions& options);

/// The same for a live stream. Rows come out as they arrive. A text is understood from its first 64 lines, or
/// as many more as that takes; sound and HDF5, which are read by position, are held in memory to their end.
[[nodiscard]] Result<std::unique_ptr<Source>> open_stream(std::unique_ptr<transport::ByteStream> stream,
                                                          const ReadOptions& options);

}  // namespace ebbtide::recording
