#pragma once
// Reads a recording container: whole records in their order, damage named in bytes, never a wrong sample.
// The format and what is done with damage: docs/formats/container.md.

#include <cstdint>
#include <memory>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "recording/bytes.hpp"
#include "recording/container_layout.hpp"
#include "recording/record_order.hpp"
#include "recording/record_scan.hpp"
#include "recording/source.hpp"

namespace ebbtide::recording {

class ContainerReader final : public Source {
  public:
    /// Takes the records up to the first description. Options name channels; those for time do not apply,
    /// because times are stored. Errors: no container; a newer version; no whole description; an option that
    /// names no channel, or would change what the specimen was when kept runs were cut.
    [[nodiscard]] static Result<std::unique_ptr<ContainerReader>> open(Bytes bytes,
                                                                       const ReadOptions& options);

    [[nodiscard]] const Description& description() const override { return description_; }
    [[nodiscard]] Result<bool> next(Block& block) override;
    [[nodiscard]] std::string sha256() override { return bytes_.sha256(); }
    [[nodiscard]] std::uint64_t bytes() const override { return bytes_.taken(); }
    [[nodiscard]] std::optional<KeptRuns> kept_runs() const override;

    /// What a writer that goes on must know; whole after next() returned false.
    struct Resume {
        std::uint64_t whole_until = 0;  ///< end of the last whole record
        std::uint64_t next_number = 0;
        bool in_segment = false;  ///< a segment was begun and not ended
        double last_time_s = 0;   ///< of it
    };
    [[nodiscard]] Resume resume() const;
    [[nodiscard]] const container::Contents& contents() const { return contents_; }

  private:
    explicit ContainerReader(Bytes bytes);
    [[nodiscard]] std::optional<Error> find_description();
    [[nodiscard]] std::optional<Error> apply(const ReadOptions& options);

    void place(Block& block);
    void tell_repeats(Block& block);
    void tell_damage(Block& block, const std::string& text, bool lost);
    void hand_out_waiting(Block& block);
    [[nodiscard]] bool handle(Block& block);
    [[nodiscard]] bool take_samples(Block& block);
    [[nodiscard]] std::optional<std::string> fault_of();
    void finish(Block& block);
    [[nodiscard]] double edge_s(const std::vector<ChannelBlock>& channels, bool last) const;

    Bytes bytes_;
    container::RecordScan scan_;
    container::Contents contents_;
    Description description_;
    std::optional<Original> original_;  // of the end record

    // the record at hand
    std::optional<container::RecordScan::Found> found_;
    bool placed_ = false;  // what its place in the file says was told
    std::vector<ChannelBlock> samples_;
    std::optional<trace::Notice> notice_;
    std::optional<KeptRun> parsed_run_;

    // the order of records
    container::RecordOrder order_;
    struct Repeated {
        std::uint64_t from = 0, to = 0, first = 0, last = 0;  // bytes, numbers
    };
    std::optional<Repeated> repeated_;
    std::uint32_t last_type_ = 0;

    // the segment at hand
    bool in_segment_ = false;
    bool starts_ = false;  // none of its samples was handed out yet
    std::optional<KeptRun> run_;
    std::vector<double> last_s_;  // of each channel
    double edge_last_s_ = 0;
    /// Notices that belong to samples to come.
    struct Waiting {
        trace::Notice notice;
        bool timed = true;  // else its time is that of the first sample
        bool told = false;  // it was said before, of the samples on the other side
    };
    std::vector<Waiting> waiting_;
    bool finished_ = false;
};

/// The same as a Source.
[[nodiscard]] Result<std::unique_ptr<Source>> open_container(Bytes bytes, const ReadOptions& options);

}  // namespace ebbtide::recording
