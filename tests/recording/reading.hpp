#pragma once
// A whole recording read into memory, as tests look at it.

#include <gtest/gtest.h>

#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "recording/source.hpp"

namespace ebbtide::recording::testing_support {

struct Segment {
    std::vector<ChannelBlock> channels;
};

struct Reading {
    std::optional<Error> error;
    Description description;
    std::vector<Segment> segments;
    std::vector<trace::Notice> notices;
    std::string sha256;

    [[nodiscard]] const ChannelBlock& only(trace::Quantity quantity, std::size_t segment = 0) const {
        for (std::size_t c = 0; c < description.channels.size(); ++c)
            if (description.channels[c].quantity == quantity) return segments.at(segment).channels.at(c);
        throw std::out_of_range("no such channel in: " + description.dialect);
    }
    [[nodiscard]] const ChannelBlock& specimen(std::size_t segment = 0) const {
        return only(trace::Quantity::specimen_voltage, segment);
    }
    [[nodiscard]] std::size_t count(trace::Notice::Kind kind) const {
        std::size_t n = 0;
        for (const trace::Notice& notice : notices) n += notice.kind == kind ? notice.count : 0;
        return n;
    }
    [[nodiscard]] const trace::Notice& first(trace::Notice::Kind kind) const {
        for (const trace::Notice& notice : notices)
            if (notice.kind == kind) return notice;
        throw std::out_of_range("no such notice");
    }
};

inline Reading read_all(Result<std::unique_ptr<Source>> source) {
    Reading out;
    if (!source) {
        out.error = source.error();
        return out;
    }
    out.description = (*source)->description();
    Block block;
    for (;;) {
        const Result<bool> more = (*source)->next(block);
        if (!more) out.error = more.error();
        if (!more || !*more) break;
        if (block.starts_segment) out.segments.emplace_back().channels.resize(block.channels.size());
        for (std::size_t c = 0; c < block.channels.size(); ++c) {
            const ChannelBlock& from = block.channels[c];
            EXPECT_EQ(from.time_s.size(), from.value.size());
            if (from.value.empty()) continue;
            ChannelBlock& to = out.segments.at(out.segments.size() - 1).channels[c];
            to.time_s.insert(to.time_s.end(), from.time_s.begin(), from.time_s.end());
            to.value.insert(to.value.end(), from.value.begin(), from.value.end());
        }
        out.notices.insert(out.notices.end(), block.notices.begin(), block.notices.end());
    }
    out.sha256 = (*source)->sha256();
    return out;
}

inline Reading read(std::string text, const ReadOptions& options = {}) {
    return read_all(open_bytes(std::move(text), "trace.csv", options));
}

/// The text as UTF-16, each ASCII character in two bytes.
inline std::string as_utf16(std::string_view text, bool big_endian, bool with_mark) {
    std::string out;
    const auto put = [&](unsigned unit) {
        const char low = static_cast<char>(unit & 0xFF), high = static_cast<char>(unit >> 8);
        out += big_endian ? high : low;
        out += big_endian ? low : high;
    };
    if (with_mark) put(0xFEFF);
    for (const char c : text) put(static_cast<unsigned char>(c));
    return out;
}

}  // namespace ebbtide::recording::testing_support
