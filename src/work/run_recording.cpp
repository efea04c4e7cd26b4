#include "work/run_recording.hpp"

#include <fmt/format.h>

#include <filesystem>

#include "ledger/durable_file.hpp"

namespace ebbtide::work {
namespace {

trace::ChannelDescription channel(const std::string& heading, const char* otherwise,
                                  trace::Quantity quantity) {
    return {heading.empty() ? otherwise : heading, "V", 1, quantity, 0};
}

}  // namespace

std::vector<trace::ChannelDescription> driven_channels(const plan::Bench& bench) {
    return {channel(bench.channels.specimen, "Specimen voltage", trace::Quantity::specimen_voltage),
            channel(bench.channels.electrode, "Electrode voltage", trace::Quantity::electrode_voltage)};
}

Result<Done> give_file_name(const std::string& part, const std::string& path) {
    std::error_code ignored;
    if (const auto folder = std::filesystem::path(path).parent_path(); !folder.empty())
        std::filesystem::create_directories(folder, ignored);
    return ledger::give_name(part, path);
}

Result<RunRecording> RunRecording::create(const std::string& path, const plan::Bench& bench, Instant began,
                                          RecordingNotes notes) {
    if (const auto is_new = ledger::must_be_new(path); !is_new) return is_new.error();
    std::error_code ignored;
    if (const auto folder = std::filesystem::path(path).parent_path(); !folder.empty())
        std::filesystem::create_directories(folder, ignored);
    auto sink = recording::new_file(path + unfinished);
    if (!sink) return sink.error();
    RunRecording out;
    out.path_ = path;
    out.began_ = began;
    out.about_.file = path;
    out.about_.format = "driven bench";
    out.about_.metadata = std::move(notes);
    out.about_.channels = driven_channels(bench);
    out.writer_ = std::make_unique<recording::ContainerWriter>(std::move(sink).value());
    return out;
}

Result<Done> RunRecording::add(const bench::Observation& seen) {
    const std::size_t count = std::min(seen.specimen.size(), seen.electrode.size());
    lost_ += seen.lost;
    if (count == 0) {
        // One channel alone is no sample of a run.
        lost_ += std::max(seen.specimen.size(), seen.electrode.size());
        return Done{};
    }
    recording::Block block;
    if (samples_ == 0) {
        block.starts_segment = true;
        about_.origin = began_ + Span::from_seconds(seen.from_s);
        if (const auto described = writer_->describe(about_); !described) return described.error();
    } else if (lost_ > 0) {
        block.notices.push_back({.kind = trace::Notice::Kind::time_gap,
                                 .count = 1,
                                 .time_s = static_cast<double>(index_ - 1) * seen.sample_interval_s,
                                 .text = fmt::format("{} samples were lost before they were kept", lost_)});
        index_ += lost_;
    }
    lost_ = 0;
    block.channels.resize(2);
    for (recording::ChannelBlock& one : block.channels) one.time_s.reserve(count);
    for (std::size_t i = 0; i < count; ++i)
        for (recording::ChannelBlock& one : block.channels)
            one.time_s.push_back(static_cast<double>(index_ + i) * seen.sample_interval_s);
    block.channels[0].value.assign(seen.specimen.begin(),
                                   seen.specimen.begin() + static_cast<std::ptrdiff_t>(count));
    block.channels[1].value.assign(seen.electrode.begin(),
                                   seen.electrode.begin() + static_cast<std::ptrdiff_t>(count));
    samples_ += count;
    index_ += count;
    return writer_->block(block);
}

Result<Done> RunRecording::finish(RecordingNotes notes) {
    recording::Original original;
    original.metadata = about_.metadata;
    original.metadata.insert(original.metadata.end(), notes.begin(), notes.end());
    if (samples_ == 0)
        if (const auto described = writer_->describe(about_); !described) return described.error();
    if (const auto finished = writer_->finish(original); !finished) return finished.error();
    return give_file_name(path_ + unfinished, path_);
}

}  // namespace ebbtide::work
