#include "recording/container_writer.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <stdexcept>

#include "recording/container_reader.hpp"

namespace ebbtide::recording {

using container::RecordType;

ContainerWriter::ContainerWriter(std::unique_ptr<ByteSink> sink, bool holds_runs) : sink_(std::move(sink)) {
    contents_.holds_runs = holds_runs;
}

Result<Done> ContainerWriter::describe(const Description& description) {
    if (described_) throw std::logic_error("a container is described once");
    contents_.about = description;
    described_ = true;
    const std::string payload = container::description_payload(contents_, true);
    if (payload.size() > container::largest_payload)
        return Error{
            Fault::bad_input,
            fmt::format("its {} channels and {} lines of metadata take {} bytes, at most {} are written",
                        description.channels.size(), description.metadata.size(), payload.size(),
                        container::largest_payload),
            description.file, "Export fewer columns"};
    const auto opened = write(std::string(container::magic) + container::version);
    if (!opened) return opened;
    return put(RecordType::description, payload);
}

Result<Done> ContainerWriter::block(const Block& block) {
    if (!described_ || finished_) throw std::logic_error("blocks come after describe() and before finish()");
    if (block.channels.size() != contents_.about.channels.size())
        throw std::logic_error("a block has the channels of the description");
    const bool samples =
        std::ranges::any_of(block.channels, [](const ChannelBlock& c) { return !c.value.empty(); });
    if (block.starts_segment) {
        const auto started = start_segment(block);
        if (!started) return started;
    }
    if (samples && !in_segment_) throw std::logic_error("samples stand in a segment");
    for (const trace::Notice& notice : block.notices) {
        const auto put_notice = put(RecordType::notice, container::notice_payload(notice));
        if (!put_notice) return put_notice;
    }
    if (samples) {
        const auto written = put_samples(block);
        if (!written) return written;
    }
    return block.ends_segment ? end_segment() : Done{};
}

Result<Done> ContainerWriter::start_segment(const Block& block) {
    const auto ended = end_segment();
    if (!ended) return ended;
    in_segment_ = true;
    const auto started = put(RecordType::segment_start, {});
    if (!started) return started;
    const auto described = put(RecordType::description, container::description_payload(contents_, false));
    if (!described || !block.run) return described;
    return put(RecordType::run, container::run_payload(*block.run));
}

// Large blocks are cut up at times, not at counts: what stands at one time in several channels stays
// together, or whoever lays the channels beside each other would find one of them late.
Result<Done> ContainerWriter::put_samples(const Block& block) {
    std::size_t numbers = 0;
    for (const ChannelBlock& channel : block.channels) numbers += 2 * channel.value.size();
    const std::size_t pieces = numbers * sizeof(double) / container::usual_payload + 1;
    const std::vector<double>& longest =
        std::ranges::max_element(block.channels, {}, [](const ChannelBlock& c) {
            return c.value.size();
        })->time_s;
    std::vector<container::Stretch> stretches(block.channels.size());
    for (std::size_t piece = 1; piece <= pieces; ++piece) {
        bool empty = true;
        for (std::size_t c = 0; c < stretches.size(); ++c) {
            const std::vector<double>& times = block.channels[c].time_s;
            auto end = times.end();
            if (piece < pieces)
                end = std::ranges::lower_bound(times, longest[longest.size() * piece / pieces]);
            stretches[c] = {stretches[c].end, static_cast<std::size_t>(end - times.begin())};
            empty = empty && stretches[c].first == stretches[c].end;
        }
        if (empty) continue;
        const std::string payload = container::samples_payload(block.channels, stretches);
        if (payload.size() > container::largest_payload)
            return Error{Fault::bad_input,
                         fmt::format("{} bytes of samples stand at one time, at most {} are written",
                                     payload.size(), container::largest_payload),
                         contents_.about.file, "Check the time column"};
        const auto written = put(RecordType::samples, payload);
        if (!written) return written;
    }
    return Done{};
}

Result<Done> ContainerWriter::end_segment() {
    if (!in_segment_) return Done{};
    in_segment_ = false;
    const auto ended = put(RecordType::segment_end, {});
    return ended ? sink_->sync() : ended;
}

Result<Done> ContainerWriter::finish(const Original& original) {
    if (!described_ || finished_) throw std::logic_error("a container is finished once, after describe()");
    const auto ended = end_segment();
    if (!ended) return ended;
    finished_ = true;
    const auto written = put(RecordType::end, container::end_payload(original));
    return written ? sink_->sync() : written;
}

Result<Done> ContainerWriter::put(RecordType type, std::string_view payload) {
    return write(container::record(type, next_number_++, payload));
}

Result<Done> ContainerWriter::write(std::string_view bytes) {
    bytes_ += bytes.size();
    return sink_->write(bytes);
}

Result<ContainerWriter::GoneOn> ContainerWriter::go_on(const std::string& path) {
    auto bytes = Bytes::open(path, false);
    if (!bytes) return bytes.error();
    auto reader = ContainerReader::open(std::move(bytes).value(), {});
    if (!reader) return reader.error();
    Block block;
    for (;;) {
        const auto more = (*reader)->next(block);
        if (!more) return more.error();
        if (!*more) break;
    }
    const ContainerReader::Resume resume = (*reader)->resume();
    GoneOn gone;
    gone.contents = (*reader)->contents();
    gone.bytes_cut = (*reader)->bytes() - resume.whole_until;
    auto sink = go_on_with_file(path, resume.whole_until);
    if (!sink) return sink.error();
    gone.writer = std::make_unique<ContainerWriter>(std::move(sink).value(), gone.contents.holds_runs);
    gone.writer->contents_ = gone.contents;
    gone.writer->described_ = true;
    gone.writer->next_number_ = resume.next_number;
    gone.writer->bytes_ = resume.whole_until;
    if (gone.bytes_cut > 0 || resume.in_segment) {
        trace::Notice notice;
        notice.kind = trace::Notice::Kind::torn_tail;
        notice.time_s = resume.last_time_s;
        notice.text = fmt::format(
            "writing was broken off here and went on later; {} bytes of no whole record were cut off",
            gone.bytes_cut);
        const auto noted = gone.writer->put(RecordType::notice, container::notice_payload(notice));
        if (!noted) return noted.error();
    }
    return gone;
}

}  // namespace ebbtide::recording
