#pragma once
// Writes recording containers: docs/formats/container.md. For conversion, for live use and for kept runs.

#include <cstdint>
#include <memory>
#include <string>

#include "recording/byte_sink.hpp"
#include "recording/container_layout.hpp"
#include "recording/recording_writer.hpp"

namespace ebbtide::recording {

/// Each record goes to the sink as it is made; the sink is synchronised at the end of each segment. A segment
/// ends where its block says so, at the start of the next, or with end_segment().
class ContainerWriter final : public RecordingWriter {
  public:
    /// `holds_runs`: the segments are the runs of a larger recording, each block that starts one carries
    /// where it was cut, and describe() takes the larger one's description.
    explicit ContainerWriter(std::unique_ptr<ByteSink> sink, bool holds_runs = false);

    [[nodiscard]] Result<Done> describe(const Description& description) override;
    [[nodiscard]] Result<Done> block(const Block& block) override;
    [[nodiscard]] Result<Done> end_segment();
    [[nodiscard]] Result<Done> sync() { return sink_->sync(); }
    [[nodiscard]] Result<Done> finish(const Original& original) override;
    /// Bytes of this container so far.
    [[nodiscard]] std::uint64_t bytes() const { return bytes_; }

    struct GoneOn;
    /// Opens a container to go on where it ends, without describe(). Errors: as reading it; it holds no whole
    /// description, so that there is nothing to go on with; it cannot be written.
    [[nodiscard]] static Result<GoneOn> go_on(const std::string& path);

  private:
    [[nodiscard]] Result<Done> put(container::RecordType type, std::string_view payload);
    [[nodiscard]] Result<Done> write(std::string_view bytes);
    [[nodiscard]] Result<Done> start_segment(const Block& block);
    [[nodiscard]] Result<Done> put_samples(const Block& block);

    std::unique_ptr<ByteSink> sink_;
    container::Contents contents_;
    bool described_ = false, in_segment_ = false, finished_ = false;
    std::uint64_t next_number_ = 0;
    std::uint64_t bytes_ = 0;
};

struct ContainerWriter::GoneOn {
    std::unique_ptr<ContainerWriter> writer;
    container::Contents contents;  ///< what is there: blocks must have these channels
    std::uint64_t bytes_cut = 0;   ///< of a torn tail
};

}  // namespace ebbtide::recording
