// The profile that says which red, green and blue the report means: its arithmetic, and its bytes as ICC.1
// lays them out.

#include "report/icc_profile.hpp"

#include <gtest/gtest.h>

#include <cmath>
#include <cstdint>
#include <map>

#include "support/agrees.hpp"

namespace {

using namespace ebbtide::report;

std::uint32_t word_at(const std::string& bytes, std::size_t at) {
    std::uint32_t value = 0;
    for (std::size_t i = 0; i < 4; ++i) value = (value << 8) | static_cast<unsigned char>(bytes.at(at + i));
    return value;
}

double number_at(const std::string& bytes, std::size_t at) {
    return static_cast<std::int32_t>(word_at(bytes, at)) / 65536.0;
}

struct Tag {
    std::size_t offset = 0, size = 0;
};

std::map<std::string, Tag> tags_of(const std::string& profile) {
    std::map<std::string, Tag> tags;
    for (std::size_t i = 0; i < word_at(profile, 128); ++i) {
        const std::size_t at = 132 + 12 * i;
        tags[profile.substr(at, 4)] = {word_at(profile, at + 4), word_at(profile, at + 8)};
    }
    return tags;
}

TEST(ColourProfile, HasThePrimariesOfSrgbUnderD50) {
    // From memory, as published for sRGB adapted by Bradford to D50 (B. Lindbloom's tables of working
    // spaces); those take the white (0.96422, 1, 0.82521), hence three digits.
    const char* published[3][3] = {
        {"0.436", "0.385", "0.143"}, {"0.223", "0.717", "0.0606"}, {"0.0139", "0.0971", "0.714"}};
    const Matrix3 matrix = linear_srgb_to_xyz_d50();
    for (std::size_t i = 0; i < 3; ++i)
        for (std::size_t j = 0; j < 3; ++j) {
            const std::string_view digits = published[i][j];
            const double unit = std::pow(10, -static_cast<double>(digits.size() - digits.find('.') - 1));
            EXPECT_NEAR(matrix[i][j], std::stod(std::string(digits)), unit) << i << j;
        }
}

TEST(ColourProfile, TakesWhiteToWhite) {
    const Matrix3 matrix = linear_srgb_to_xyz_d50(), adapted = bradford_d65_to_d50();
    // D50 of ICC.1:2010, 7.2.16; D65 from x = 0.3127, y = 0.3290 (IEC 61966-2-1).
    const double D50[3] = {0.9642, 1.0, 0.8249};
    const double D65[3] = {0.3127 / 0.3290, 1, (1 - 0.3127 - 0.3290) / 0.3290};
    for (std::size_t i = 0; i < 3; ++i) {
        EXPECT_NEAR(matrix[i][0] + matrix[i][1] + matrix[i][2], D50[i], 1e-12);
        EXPECT_NEAR(adapted[i][0] * D65[0] + adapted[i][1] * D65[1] + adapted[i][2] * D65[2], D50[i], 1e-12);
    }
    // In the file's own units too, to the last bit.
    const std::string profile = srgb_profile();
    const auto tags = tags_of(profile);
    for (std::size_t at = 8; at < 20; at += 4)
        EXPECT_EQ(word_at(profile, tags.at("rXYZ").offset + at) +
                      word_at(profile, tags.at("gXYZ").offset + at) +
                      word_at(profile, tags.at("bXYZ").offset + at),
                  word_at(profile, tags.at("wtpt").offset + at));
}

TEST(ColourProfile, IsLaidOutAsAProfile) {
    const std::string profile = srgb_profile();
    EXPECT_EQ(word_at(profile, 0), profile.size());
    EXPECT_EQ(word_at(profile, 8), 0x04200000u) << "version 4.2";
    EXPECT_EQ(profile.substr(12, 12), "mntrRGB XYZ ");
    EXPECT_EQ(profile.substr(36, 4), "acsp");
    // ICC.1:2010, 7.2.16: the illuminant, in these bytes.
    EXPECT_EQ(word_at(profile, 68), 0x0000F6D6u);
    EXPECT_EQ(word_at(profile, 72), 0x00010000u);
    EXPECT_EQ(word_at(profile, 76), 0x0000D32Du);
    for (std::size_t at = 100; at < 128; at += 4) EXPECT_EQ(word_at(profile, at), 0u) << "reserved";
    const auto tags = tags_of(profile);
    EXPECT_EQ(tags.size(), word_at(profile, 128));
    for (const char* name : {"desc", "cprt", "wtpt", "chad", "rXYZ", "gXYZ", "bXYZ", "rTRC", "gTRC", "bTRC"})
        ASSERT_TRUE(tags.contains(name)) << name;
    std::size_t end = 132 + 12 * tags.size();
    for (const auto& [name, tag] : tags) {
        EXPECT_EQ(tag.offset % 4, 0u) << name;
        EXPECT_GE(tag.offset, 132 + 12 * tags.size()) << name;
        EXPECT_LE(tag.offset + tag.size, profile.size()) << name;
        EXPECT_EQ(word_at(profile, tag.offset + 4), 0u) << name << " reserved";
        end = std::max(end, tag.offset + tag.size);
    }
    EXPECT_LE(profile.size() - end, 3u) << "nothing lies behind the last tag but padding";
    EXPECT_EQ(profile, srgb_profile());
}

TEST(ColourProfile, HasTheCurveOfSrgb) {
    const std::string profile = srgb_profile();
    const std::size_t at = tags_of(profile).at("rTRC").offset;
    ASSERT_EQ(profile.substr(at, 4), "para");
    ASSERT_EQ(word_at(profile, at + 8), 3u << 16);
    const double g = number_at(profile, at + 12), a = number_at(profile, at + 16),
                 b = number_at(profile, at + 20), c = number_at(profile, at + 24),
                 d = number_at(profile, at + 28);
    // IEC 61966-2-1:1999, 5.2: from the value to its linear light; half a step of eight bits apart at most.
    for (int i = 0; i <= 255; ++i) {
        const double x = i / 255.0;
        const double wanted = x <= 0.04045 ? x / 12.92 : std::pow((x + 0.055) / 1.055, 2.4);
        const double got = x >= d ? std::pow(a * x + b, g) : c * x;
        EXPECT_NEAR(got, wanted, 1e-4) << i;
    }
    EXPECT_EQ(tags_of(profile).at("gTRC").offset, at) << "one curve for all three";
}

}  // namespace
