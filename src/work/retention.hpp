#pragma once
// What of an order's recordings goes into its report: small ones whole, of large ones their runs.
// Why, and what is lost by it: docs/decisions/0005-large-recordings-are-kept-by-runs.md.

#include <cstdint>
#include <memory>
#include <string>

#include "basis/result.hpp"
#include "record/order_record.hpp"
#include "recording/source.hpp"

namespace ebbtide::work {

struct Retention {
    std::uint64_t attached_at_most = std::uint64_t{64} << 20;    ///< bytes of a recording that is kept whole
    std::uint64_t kept_runs_at_most = std::uint64_t{256} << 20;  ///< of all kept runs of an order together
};

/// The name under which the runs of a recording are attached: "recordings/day.csv.runs.ebbrec". A plan may
/// name one recording several times, each time with other channels: "recordings/day.csv.2.runs.ebbrec".
[[nodiscard]] std::string kept_runs_name(const std::string& recording, std::size_t occurrence = 1);

/// Runs of one recording on their way into a report: in a temporary file without a name, which is gone when
/// the last user is. More than `room` bytes are given up, not kept in part. One thread.
class KeptRunsFile {
  public:
    /// `description`: of the recording. Error: no temporary file can be made.
    [[nodiscard]] static Result<std::shared_ptr<KeptRunsFile>> create(
        const recording::Description& description, std::uint64_t room);
    virtual ~KeptRunsFile() = default;

    /// A run as work::measure hands it out. Error: the temporary file cannot be written.
    [[nodiscard]] virtual Result<Done> keep(const recording::Block& run) = 0;
    /// Once, when the whole recording was read.
    [[nodiscard]] virtual Result<Done> finish(const record::RecordingRecord& recording) = 0;

    [[nodiscard]] virtual bool given_up() const = 0;
    [[nodiscard]] virtual std::uint64_t size() const = 0;
    [[nodiscard]] virtual std::string sha256() const = 0;  ///< of its bytes, after finish()
    [[nodiscard]] virtual Result<std::string> bytes() const = 0;
};

}  // namespace ebbtide::work
