#pragma once
// The bytes of a recording container, as docs/formats/container.md lays them down: records, and what each
// kind of record holds.

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "basis/result.hpp"
#include "recording/recording_writer.hpp"
#include "recording/source.hpp"

namespace ebbtide::recording::container {

inline constexpr std::string_view file_ending = ".ebbrec";
inline constexpr std::string_view kept_runs_ending = ".runs.ebbrec";

inline constexpr std::string_view magic =
    "\x89"
    "EBTREC";  // the version follows
inline constexpr char version = 1;
inline constexpr std::size_t opening_bytes = magic.size() + 1;
inline constexpr std::string_view sync_word = "\xEB\xB7\x1D\xE0\xC3\x5A\x96\xF8";
inline constexpr std::size_t header_bytes = 24, checksum_bytes = 8;
inline constexpr std::size_t largest_payload = std::size_t{16} << 20;
inline constexpr std::uint64_t numbers_end = std::uint64_t{1} << 63;
/// What the writer makes of a large block: damage costs a record, and a record should be no run.
inline constexpr std::size_t usual_payload = std::size_t{32} << 10;

enum class RecordType : std::uint32_t {
    description = 1,
    segment_start = 2,
    samples = 3,
    notice = 4,
    run = 5,
    segment_end = 6,
    end = 7
};

/// The first bytes of a file of ours, whatever its version.
[[nodiscard]] bool looks_like_one(std::string_view head);

/// A whole record: header, payload, checksum.
[[nodiscard]] std::string record(RecordType type, std::uint64_t number, std::string_view payload);
/// First 8 bytes of the SHA-256.
[[nodiscard]] std::string checksum_of(std::string_view header_and_payload);

[[nodiscard]] std::uint32_t read_u32(const char* at);
[[nodiscard]] std::uint64_t read_u64(const char* at);

/// What a description record says; file, format and dialect of `about` are those of the original.
struct Contents {
    Description about;
    bool holds_runs = false;
};

// Reading: the Error's `what` names the rule that is broken; where and remedy are the caller's.

[[nodiscard]] std::string description_payload(const Contents& contents, bool with_metadata);
[[nodiscard]] Result<Contents> parse_description(std::string_view payload);

/// Samples [first, end) of each channel.
struct Stretch {
    std::size_t first = 0, end = 0;
};
[[nodiscard]] std::string samples_payload(const std::vector<ChannelBlock>& channels,
                                          const std::vector<Stretch>& stretches);
/// Fills as many channels as there are in `channels`, whose storage is reused.
[[nodiscard]] Result<Done> parse_samples(std::string_view payload, std::vector<ChannelBlock>& channels);

[[nodiscard]] std::string notice_payload(const trace::Notice& notice);
[[nodiscard]] Result<trace::Notice> parse_notice(std::string_view payload);

[[nodiscard]] std::string run_payload(const KeptRun& run);
[[nodiscard]] Result<KeptRun> parse_run(std::string_view payload);

[[nodiscard]] std::string end_payload(const Original& original);
[[nodiscard]] Result<Original> parse_end(std::string_view payload);

}  // namespace ebbtide::recording::container
