#include "recording/recording_file.hpp"

#include <stdexcept>

#include "recording/container_writer.hpp"

namespace ebbtide::recording {

Result<FileKind> file_kind_of(const std::string& path) {
    if (path.ends_with(container::file_ending)) return FileKind::container;
    return Error{Fault::bad_input, "its ending names no kind of file that recordings are written to", path,
                 "Name a file that ends in .ebbrec (recording container)"};
}

Result<std::unique_ptr<RecordingWriter>> new_recording_file(const std::string& path, FileKind kind) {
    switch (kind) {
        case FileKind::container: {
            auto file = new_file(path);
            if (!file) return file.error();
            return std::unique_ptr<RecordingWriter>(
                std::make_unique<ContainerWriter>(std::move(file).value()));
        }
    }
    throw std::logic_error("a kind of file without a writer");
}

}  // namespace ebbtide::recording
