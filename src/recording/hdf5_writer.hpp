#pragma once
// Writes recordings as HDF5: docs/formats/hdf5.md.

#include <cstdint>
#include <memory>
#include <string>
#include <vector>

#include "recording/recording_writer.hpp"

namespace ebbtide::recording {

inline constexpr std::string_view hdf5_ending = ".h5";

/// The file is made beside its place and moved there once it is whole. Errors: the disk is full, the folder
/// is not writable; a segment that is a kept run, for which the layout has no place.
class Hdf5Writer final : public RecordingWriter {
  public:
    explicit Hdf5Writer(std::string path);
    ~Hdf5Writer() override;

    [[nodiscard]] Result<Done> describe(const Description& description) override;
    [[nodiscard]] Result<Done> block(const Block& block) override;
    [[nodiscard]] Result<Done> finish(const Original& original) override;

  private:
    class File;
    std::string path_;
    std::unique_ptr<File> file_;
};

}  // namespace ebbtide::recording
