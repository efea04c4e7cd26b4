#pragma once
// A driven run as a recording container that grows while the run goes on, and gets its name when it is whole.

#include <memory>
#include <string>
#include <utility>
#include <vector>

#include "basis/instant.hpp"
#include "bench/bench.hpp"
#include "plan/bench.hpp"
#include "recording/container_writer.hpp"

namespace ebbtide::work {

using RecordingNotes = std::vector<std::pair<std::string, std::string>>;

/// The two channels of a driven bench, in volts at the recorder: the specimen's and the electrode's.
[[nodiscard]] std::vector<trace::ChannelDescription> driven_channels(const plan::Bench& bench);

/// One segment; time zero is its first sample. Samples that the bench lost leave a gap, with a notice.
class RunRecording {
  public:
    /// Written at `path` with ".part" behind it until finish(). `began` is the instant at which the bench's
    /// clock stood at 0. Error: it cannot be written; something of that name is there.
    [[nodiscard]] static Result<RunRecording> create(const std::string& path, const plan::Bench& bench,
                                                     Instant began, RecordingNotes notes);
    [[nodiscard]] Result<Done> add(const bench::Observation& seen);
    /// Ends it and gives it its name.
    [[nodiscard]] Result<Done> finish(RecordingNotes notes);
    [[nodiscard]] std::uint64_t samples() const { return samples_; }
    [[nodiscard]] const std::string& path() const { return path_; }

  private:
    RunRecording() = default;
    std::string path_;
    recording::Description about_;
    Instant began_;
    std::unique_ptr<recording::ContainerWriter> writer_;
    std::uint64_t samples_ = 0, index_ = 0, lost_ = 0;
};

/// Ending of what is still being written.
inline constexpr const char* unfinished = ".part";

/// Gives a finished file its name and waits until the disk has it. Error: that name is taken.
[[nodiscard]] Result<Done> give_file_name(const std::string& part, const std::string& path);

}  // namespace ebbtide::work
