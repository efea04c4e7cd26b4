#include "work/convert.hpp"

#include <algorithm>
#include <filesystem>

#include "recording/recording_file.hpp"
#include "work/notices.hpp"

namespace ebbtide::work {

Result<Converted> convert(recording::Source& source, recording::RecordingWriter& writer) {
    if (source.kept_runs())
        return Error{Fault::bad_input, "holds only runs that were kept of a larger recording",
                     source.description().file, "Copy the file as it is, or convert the recording itself"};
    Converted converted;
    const auto described = writer.describe(source.description());
    if (!described) return described.error();
    recording::Block block;
    for (;;) {
        const auto more = source.next(block);
        if (!more) return more.error();
        if (!*more) break;
        const auto written = writer.block(block);
        if (!written) return written.error();
        converted.segments += block.starts_segment ? 1 : 0;
        for (const recording::ChannelBlock& channel : block.channels)
            converted.samples += channel.value.size();
        for (const trace::Notice& notice : block.notices) count_in(converted.notices, notice);
    }
    converted.sha256 = source.sha256();
    converted.bytes = source.bytes();
    const auto finished = writer.finish({converted.sha256, converted.bytes, source.description().metadata});
    if (!finished) return finished.error();
    return converted;
}

Result<Converted> convert_to_file(recording::Source& source, const std::string& output) {
    const auto kind = recording::file_kind_of(output);
    if (!kind) return kind.error();
    const std::string part = output + ".part";
    std::error_code none;
    if (std::filesystem::exists(std::filesystem::symlink_status(part, none)))
        return Error{Fault::bad_input, "is in the way: the output is written there before it gets its name",
                     part, "Keep it under another name, or remove it"};
    if (std::filesystem::equivalent(source.description().file, output, none))
        return Error{Fault::bad_input, "is the recording itself", output,
                     "Name another file: a recording is never overwritten"};
    const auto discard = [&](Error error) {
        std::error_code ignored;
        std::filesystem::remove(part, ignored);
        if (error.where == part) error.where = output;
        return error;
    };
    Result<Converted> converted = [&]() -> Result<Converted> {
        auto writer = recording::new_recording_file(part, *kind);
        if (!writer) return writer.error();
        return convert(source, **writer);
    }();
    if (!converted) return discard(converted.error());
    std::error_code fault;
    std::filesystem::rename(part, output, fault);
    if (fault)
        return discard({Fault::unreadable, "cannot be written: " + fault.message(), output,
                        "Check that the folder is there, writable and not full"});
    return converted;
}

}  // namespace ebbtide::work
