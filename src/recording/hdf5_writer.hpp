#pragma once
// Writes recordings as HDF5: docs/formats/hdf5.md.

#include <cstdint>
#include <memory>
#include <string>
#include <vector>

#include "recording/recording_writer.hpp"

namespace ebbtide::recording {

/// Not a recording before finish() was without error. Errors: the disk is full, the folder is not writable; a
/// segment that is a kept run, for which the layout has no place.
class Hdf5Writer final : public RecordingWriter {
  public:
    explicit Hdf5Writer(std::string path);
    ~Hdf5Writer() override;
    Hdf5Writer(const Hdf5Writer&) = delete;
    Hdf5Writer& operator=(const Hdf5Writer&) = delete;

    [[nodiscard]] Result<Done> describe(const Description& description) override;
    [[nodiscard]] Result<Done> block(const Block& block) override;
    [[nodiscard]] Result<Done> finish(const Original& original) override;

  private:
    class File;
    std::string path_;
    std::unique_ptr<File> file_;
};

}  // namespace ebbtide::recording
