#pragma once
// WAV files made byte by byte, after the layout of RIFF WAVE (Multimedia Programming Interface and Data
// Specifications 1.0, 1991), so that the reader is not checked against the library that it reads with.

#include <cstdint>
#include <cstring>
#include <string>
#include <vector>

namespace ebbtide::recording::testing_support {

inline std::string little(std::uint64_t number, int bytes) {
    std::string out;
    for (int i = 0; i < bytes; ++i) out += static_cast<char>(number >> (8 * i) & 0xFF);
    return out;
}

struct Wave {
    std::uint16_t channels = 1;
    std::uint32_t rate_Hz = 44'100;
    std::uint16_t bits = 16;
    bool floats = false;
    std::string data;    ///< as it stands in the file
    std::string before;  ///< chunks between format and data

    Wave& add16(int value) {
        data += little(static_cast<std::uint16_t>(value), 2);
        return *this;
    }
    Wave& add32(float value) {
        std::uint32_t pattern = 0;
        std::memcpy(&pattern, &value, sizeof value);
        data += little(pattern, 4);
        return *this;
    }
    Wave& add64(double value) {
        std::uint64_t pattern = 0;
        std::memcpy(&pattern, &value, sizeof value);
        data += little(pattern, 8);
        return *this;
    }
    [[nodiscard]] std::string bytes() const {
        const std::uint32_t frame = channels * bits / 8u;
        const std::string format = little(floats ? 3 : 1, 2) + little(channels, 2) + little(rate_Hz, 4) +
                                   little(std::uint64_t{rate_Hz} * frame, 4) + little(frame, 2) +
                                   little(bits, 2);
        const std::string rest =
            "WAVEfmt " + little(format.size(), 4) + format + before + "data" + little(data.size(), 4) + data;
        return "RIFF" + little(rest.size(), 4) + rest;
    }
};

inline Wave of_floats(const std::vector<float>& values) {
    Wave wave;
    wave.bits = 32;
    wave.floats = true;
    for (const float value : values) wave.add32(value);
    return wave;
}

}  // namespace ebbtide::recording::testing_support
