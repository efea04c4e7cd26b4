#pragma once
// A container whose every sample says where it belongs, so that a wrong, repeated or lost one shows.

#include <cmath>
#include <cstdint>
#include <set>
#include <string>
#include <vector>

#include "recording/container_layout.hpp"
#include "recording/container_writer.hpp"
#include "recording/reading.hpp"

namespace ebbtide::recording::testing_support {

inline constexpr double time_step_s = 1.0 / 1024;

/// Segment, channel and index of a sample, in one number.
inline double value_of(int segment, std::size_t channel, std::size_t index) {
    return segment * 1e9 + static_cast<double>(channel) * 1e8 + static_cast<double>(index);
}
/// Every third sample of the fast channels is one of the slow one.
inline double time_of(std::size_t channel, std::size_t index) {
    return static_cast<double>(index) * (channel == 2 ? 3 : 1) * time_step_s;
}

inline Description invented_description() {
    Description about;
    about.file = "invented.csv";
    about.format = "delimited text";
    about.dialect = "as tests write it";
    about.metadata = {{"operator", "Größe"}, {"", "no key"}};
    about.channels = {{"specimen", "mV", 1e-3, trace::Quantity::specimen_voltage, 2},
                      {"clamps", "kV", 1e3, trace::Quantity::electrode_voltage, 3},
                      {"RH", "%", 1, trace::Quantity::relative_humidity, 5}};
    about.origin = Instant{1'790'000'000'123'456'789};
    return about;
}

/// Samples [first, end) of the fast channels and those of the slow one beside them.
inline Block invented_block(int segment, std::size_t first, std::size_t end) {
    Block block;
    block.starts_segment = first == 0;
    block.channels.resize(3);
    for (std::size_t c = 0; c < 3; ++c)
        for (std::size_t i = (c == 2 ? (first + 2) / 3 : first); i < (c == 2 ? (end + 2) / 3 : end); ++i) {
            block.channels[c].time_s.push_back(time_of(c, i));
            block.channels[c].value.push_back(value_of(segment, c, i));
        }
    return block;
}

constexpr int segments_invented = 5;
constexpr std::size_t blocks_invented = 8, block_invented = 60;

/// Five segments of eight blocks, 480 samples each.
inline std::string invented_container() {
    std::string bytes;
    ContainerWriter writer(std::make_unique<MemorySink>(bytes));
    const auto done = [](const Result<Done>& result) { EXPECT_TRUE(result.ok()); };
    done(writer.describe(invented_description()));
    for (int segment = 0; segment < segments_invented; ++segment)
        for (std::size_t b = 0; b < blocks_invented; ++b) {
            Block block = invented_block(segment, b * block_invented, (b + 1) * block_invented);
            block.ends_segment = b + 1 == blocks_invented;
            done(writer.block(block));
        }
    done(writer.finish({std::string(64, 'a'), 12345, invented_description().metadata}));
    return bytes;
}

/// Where a record lies in the bytes of a whole container.
struct Place {
    std::uint64_t begin = 0, end = 0;
    container::RecordType type{};
    std::string_view payload;
};

inline std::vector<Place> places_of(const std::string& bytes) {
    std::vector<Place> places;
    for (std::size_t at = container::opening_bytes; at < bytes.size();) {
        const std::size_t length = container::read_u32(bytes.data() + at + 12);
        const std::size_t end = at + container::header_bytes + length + container::checksum_bytes;
        places.push_back({at, end,
                          static_cast<container::RecordType>(container::read_u32(bytes.data() + at + 8)),
                          std::string_view(bytes).substr(at + container::header_bytes, length)});
        at = end;
    }
    return places;
}

/// The samples of a samples record, by their numbers.
inline std::set<double> samples_in(const Place& place) {
    std::vector<ChannelBlock> channels(3);
    EXPECT_TRUE(container::parse_samples(place.payload, channels).ok());
    std::set<double> values;
    for (const ChannelBlock& channel : channels) values.insert(channel.value.begin(), channel.value.end());
    return values;
}

/// Every sample read, none of them wrong, twice, out of order or in a segment with those of another.
inline std::set<double> samples_of(const Reading& reading) {
    std::set<double> all;
    for (const Segment& segment : reading.segments) {
        std::set<double> whence;
        for (std::size_t c = 0; c < segment.channels.size(); ++c) {
            const ChannelBlock& channel = segment.channels[c];
            for (std::size_t i = 0; i < channel.value.size(); ++i) {
                const double number = std::floor(channel.value[i] / 1e9);
                const double index = channel.value[i] - number * 1e9 - static_cast<double>(c) * 1e8;
                whence.insert(number);
                EXPECT_EQ(channel.time_s[i], time_of(c, static_cast<std::size_t>(index))) << channel.value[i];
                EXPECT_TRUE(i == 0 || channel.value[i] > channel.value[i - 1]);
                EXPECT_TRUE(all.insert(channel.value[i]).second) << "read twice: " << channel.value[i];
            }
        }
        EXPECT_LE(whence.size(), 1u) << "samples of two segments in one";
    }
    return all;
}

/// Its samples follow each other without a hole.
inline bool is_gapless(const ChannelBlock& channel) {
    for (std::size_t i = 1; i < channel.value.size(); ++i)
        if (channel.value[i] != channel.value[i - 1] + 1) return false;
    return true;
}

}  // namespace ebbtide::recording::testing_support
