#include "recording/record_scan.hpp"

#include "recording/container_layout.hpp"

namespace ebbtide::recording::container {

Result<std::optional<RecordScan::Found>> RecordScan::next() {
    for (;;) {
        const std::size_t sync = buffer_.find(sync_word, at_);
        if (sync == std::string::npos) {
            // A sync word may have begun in the last bytes.
            const std::size_t last =
                buffer_.size() < sync_word.size() ? 0 : buffer_.size() - sync_word.size() + 1;
            at_ = std::max(at_, last);
            const Result<bool> more = fill(at_);
            if (!more) return more.error();
            if (!*more) return std::optional<Found>();
            continue;
        }
        at_ = sync;
        Result<bool> there = reach(at_, header_bytes);
        if (!there) return there.error();
        const std::size_t length = *there ? read_u32(buffer_.data() + at_ + 12) : 0;
        if (*there && length <= largest_payload && read_u64(buffer_.data() + at_ + 16) < numbers_end) {
            there = reach(at_, header_bytes + length + checksum_bytes);
            if (!there) return there.error();
            const std::size_t checked = header_bytes + length;
            const std::string_view record = std::string_view(buffer_).substr(at_, checked + checksum_bytes);
            if (*there && checksum_of(record.substr(0, checked)) == record.substr(checked)) {
                Found found;
                found.type = read_u32(record.data() + 8);
                found.number = read_u64(record.data() + 16);
                found.payload = record.substr(header_bytes, length);
                found.begin = base_ + at_;
                found.end = found.begin + record.size();
                found.skipped_from = whole_until_;
                whole_until_ = found.end;
                at_ += record.size();
                return std::optional(found);
            }
        }
        // The length itself may be what is damaged: the next record may begin anywhere.
        ++at_;
    }
}

// Makes `count` bytes from `from` on available; false when the stream ends before.
Result<bool> RecordScan::reach(std::size_t& from, std::size_t count) {
    while (buffer_.size() - from < count) {
        const Result<bool> more = fill(from);
        if (!more || !*more) return more;
    }
    return true;
}

Result<bool> RecordScan::fill(std::size_t& keep_from) {
    buffer_.erase(0, keep_from);
    base_ += keep_from;
    keep_from = 0;
    const Result<std::size_t> got = feed_(room_.data(), room_.size());
    if (!got) return got.error();
    buffer_.append(room_.data(), *got);
    return *got > 0;
}

}  // namespace ebbtide::recording::container
