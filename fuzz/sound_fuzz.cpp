// Feeds any bytes to the reader of sound files: it must answer or refuse, never crash, and let no sample
// through that is not finite or whose time runs backwards.

#include <cmath>
#include <cstddef>
#include <cstdint>
#include <cstdlib>
#include <string>
#include <vector>

#include "recording/bytes.hpp"
#include "recording/sound.hpp"

namespace {

void require(bool holds) {
    if (!holds) std::abort();
}

}  // namespace

extern "C" int LLVMFuzzerTestOneInput(const std::uint8_t* data, std::size_t size) {
    using namespace ebbtide::recording;
    if (size == 0) return 0;
    ReadOptions options;
    options.hash = false;
    options.specimen = std::to_string(1 + (data[0] & 3));
    auto source = open_sound(
        Bytes::of(std::string(reinterpret_cast<const char*>(data) + 1, size - 1), "fuzz", false), options);
    if (!source) {
        require(!source.error().what.empty());
        return 0;
    }
    const std::size_t channels = (*source)->description().channels.size();
    std::vector<double> last(channels, -INFINITY);
    std::size_t samples = 0;
    Block block;
    for (;;) {
        const auto more = (*source)->next(block);
        if (!more || !*more) break;
        require(block.channels.size() == channels);
        for (std::size_t c = 0; c < channels; ++c) {
            const ChannelBlock& channel = block.channels[c];
            require(channel.time_s.size() == channel.value.size());
            for (std::size_t i = 0; i < channel.value.size(); ++i) {
                require(std::isfinite(channel.value[i]) && std::isfinite(channel.time_s[i]));
                require(channel.time_s[i] > last[c]);
                last[c] = channel.time_s[i];
            }
            samples += channel.value.size();
        }
        // A sample takes a byte at least: no header may conjure more.
        require(samples <= size);
    }
    return 0;
}
