// Feeds any bytes to the reader of delimited text: it must answer or refuse, never crash, and let no sample
// through that is not finite or whose time runs backwards.
//
// clang++-14 -std=c++20 -O1 -g -fsanitize=fuzzer,address,undefined -fno-sanitize-recover=all -Isrc
//     fuzz/delimited_text_fuzz.cpp src/recording/*.cpp src/trace/channel.cpp src/basis/*.cpp
//     -lfmt -lcrypto -o build/delimited_text_fuzz
// build/delimited_text_fuzz -max_total_time=300 fuzz/corpus/delimited_text

#include <cmath>
#include <cstddef>
#include <cstdint>
#include <cstdlib>
#include <string>
#include <vector>

#include "recording/source.hpp"

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
    // The first byte chooses options, so that single columns are read to their end too.
    if ((data[0] & 1) != 0) options.sample_interval_s = 0.01;
    if ((data[0] & 2) != 0) options.specimen = "2";
    if ((data[0] & 4) != 0) options.time = "1";
    auto source = open_bytes(std::string(reinterpret_cast<const char*>(data) + 1, size - 1), "fuzz", options);
    if (!source) {
        require(!source.error().what.empty());
        return 0;
    }
    const std::size_t channels = (*source)->description().channels.size();
    std::vector<double> last(channels, -INFINITY);
    Block block;
    for (std::size_t blocks = 0;; ++blocks) {
        const auto more = (*source)->next(block);
        if (!more || !*more) break;
        require(block.channels.size() == channels);
        require(blocks > 0 || block.starts_segment || !block.notices.empty());
        for (std::size_t c = 0; c < channels; ++c) {
            const ChannelBlock& channel = block.channels[c];
            require(channel.time_s.size() == channel.value.size());
            if (block.starts_segment) last[c] = -INFINITY;
            for (std::size_t i = 0; i < channel.value.size(); ++i) {
                require(std::isfinite(channel.value[i]) && std::isfinite(channel.time_s[i]));
                require(channel.time_s[i] >= last[c]);
                last[c] = channel.time_s[i];
            }
        }
        for (const auto& notice : block.notices) require(notice.count > 0);
        require(blocks <= size);
    }
    require((*source)->bytes() == size - 1);
    return 0;
}
