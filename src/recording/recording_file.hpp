#pragma once
// A recording written to a file of the kind that its name ends in.

#include <memory>
#include <string>

#include "recording/recording_writer.hpp"

namespace ebbtide::recording {

enum class FileKind { container };

/// By the ending: ".ebbrec". Error: another one.
[[nodiscard]] Result<FileKind> file_kind_of(const std::string& path);

/// A new file at `path`, whatever that ends in; one that is there is replaced. Error: it cannot be written.
[[nodiscard]] Result<std::unique_ptr<RecordingWriter>> new_recording_file(const std::string& path,
                                                                          FileKind kind);

}  // namespace ebbtide::recording
