// Any bytes as a recording container. The first byte says how they come: behind the first bytes of one (0),
// as they are (1), or cut into payloads that get a header and a good checksum, so that what lies behind those
// is reached too.

#include <cmath>
#include <cstddef>
#include <cstdint>
#include <cstdlib>
#include <string>
#include <vector>

#include "recording/container_reader.hpp"

namespace {

using namespace ebbtide::recording;

void require(bool holds) {
    if (!holds) std::abort();
}

/// Each payload: a byte for its type, one for how its number differs from the next, two for its length.
std::string with_checksums(const std::string& bytes) {
    std::string out(container::magic);
    out += container::version;
    container::Contents contents;
    contents.holds_runs = !bytes.empty() && (bytes[0] & 1) != 0;
    contents.about.channels.resize(2);
    contents.about.channels[0].quantity = ebbtide::trace::Quantity::specimen_voltage;
    out += container::record(container::RecordType::description, 0,
                             container::description_payload(contents, true));
    std::uint64_t number = 1;
    for (std::size_t at = 0; at + 4 <= bytes.size();) {
        const auto byte = [&](std::size_t i) { return static_cast<unsigned char>(bytes[at + i]); };
        const std::size_t length = byte(2) + 256u * byte(3);
        number += byte(1) == 0 ? 0 : byte(1) - 128u;  // 128: no difference
        out += container::record(static_cast<container::RecordType>(byte(0) % 9), number++,
                                 std::string_view(bytes).substr(at + 4, length));
        at += 4 + length;
    }
    return out;
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
    if (size == 0) return 0;
    std::string bytes(reinterpret_cast<const char*>(data) + 1, size - 1);
    if (data[0] == 0) bytes = std::string(container::magic) + container::version + bytes;
    if (data[0] > 1) bytes = with_checksums(bytes);
    const std::size_t given = bytes.size();
    ReadOptions options;
    options.hash = false;
    auto source = open_container(Bytes::of(std::move(bytes), "fuzz", false), options);
    if (!source) {
        require(!source.error().what.empty() && !source.error().remedy.empty());
        return 0;
    }
    const std::size_t channels = (*source)->description().channels.size();
    std::vector<double> last(channels, -INFINITY);
    bool in_segment = false;
    Block block;
    for (std::size_t blocks = 0;; ++blocks) {
        const auto more = (*source)->next(block);
        require(more.ok());
        if (!*more) break;
        require(block.channels.size() == channels);
        require(!block.run || block.starts_segment);
        if (block.starts_segment) in_segment = true;
        for (std::size_t c = 0; c < channels; ++c) {
            const ChannelBlock& channel = block.channels[c];
            require(channel.time_s.size() == channel.value.size());
            require(channel.value.empty() || in_segment);
            if (block.starts_segment) last[c] = -INFINITY;
            for (std::size_t i = 0; i < channel.value.size(); ++i) {
                require(std::isfinite(channel.value[i]) && std::isfinite(channel.time_s[i]));
                require(channel.time_s[i] >= last[c]);
                last[c] = channel.time_s[i];
            }
        }
        if (block.ends_segment) in_segment = false;
        for (const auto& notice : block.notices) require(notice.count > 0 && std::isfinite(notice.time_s));
        require(blocks <= given);
    }
    require((*source)->bytes() == given);
    return 0;
}
