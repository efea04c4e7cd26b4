#include "report/icc_profile.hpp"

#include <cmath>
#include <cstdint>
#include <string_view>
#include <vector>

namespace ebbtide::report {
namespace {

/// IEC 61966-2-1:1999: chromaticities x, y of red, green, blue, and of the white D65.
constexpr double primaries[3][2] = {{0.64, 0.33}, {0.30, 0.60}, {0.15, 0.06}};
constexpr double white_D65[2] = {0.3127, 0.3290};
/// ICC.1:2010, 7.2.16: the illuminant of the profile connection space.
constexpr Vector3 white_D50{0.9642, 1.0, 0.8249};
/// ICC.1:2010, annex E: from XYZ to the cone responses of the Bradford transform.
constexpr Matrix3 bradford{Vector3{0.8951, 0.2664, -0.1614}, Vector3{-0.7502, 1.7135, 0.0367},
                           Vector3{0.0389, -0.0685, 1.0296}};

Vector3 xyz_of(const double (&xy)[2]) {
    return {xy[0] / xy[1], 1, (1 - xy[0] - xy[1]) / xy[1]};
}

Vector3 times(const Matrix3& m, const Vector3& v) {
    Vector3 out{};
    for (std::size_t i = 0; i < 3; ++i) out[i] = m[i][0] * v[0] + m[i][1] * v[1] + m[i][2] * v[2];
    return out;
}

Matrix3 times(const Matrix3& a, const Matrix3& b) {
    Matrix3 out{};
    for (std::size_t i = 0; i < 3; ++i)
        for (std::size_t j = 0; j < 3; ++j)
            for (std::size_t k = 0; k < 3; ++k) out[i][j] += a[i][k] * b[k][j];
    return out;
}

/// By cofactors; the matrices here are far from singular.
Matrix3 inverse(const Matrix3& m) {
    Matrix3 out{};
    const auto cofactor = [&](std::size_t i, std::size_t j) {
        const std::size_t a = (i + 1) % 3, b = (i + 2) % 3, c = (j + 1) % 3, d = (j + 2) % 3;
        return m[a][c] * m[b][d] - m[a][d] * m[b][c];
    };
    const double determinant = m[0][0] * cofactor(0, 0) + m[0][1] * cofactor(0, 1) + m[0][2] * cofactor(0, 2);
    for (std::size_t i = 0; i < 3; ++i)
        for (std::size_t j = 0; j < 3; ++j) out[j][i] = cofactor(i, j) / determinant;
    return out;
}

using Fixed = std::int32_t;

/// s15Fixed16Number: a number in units of 1/65536.
Fixed fixed(double value) {
    return static_cast<Fixed>(std::lround(value * 65536));
}

/// Numbers of a profile are written with the most significant byte first.
class Bytes {
  public:
    Bytes& word(std::uint32_t value) {
        for (int shift = 24; shift >= 0; shift -= 8) bytes_ += static_cast<char>((value >> shift) & 0xFFu);
        return *this;
    }
    Bytes& half(std::uint16_t value) {
        bytes_ += static_cast<char>(value >> 8);
        bytes_ += static_cast<char>(value & 0xFFu);
        return *this;
    }
    Bytes& number(Fixed value) { return word(static_cast<std::uint32_t>(value)); }
    Bytes& text(std::string_view ascii) {
        bytes_ += ascii;
        return *this;
    }
    [[nodiscard]] const std::string& bytes() const { return bytes_; }

  private:
    std::string bytes_;
};

std::string xyz_tag(const std::array<Fixed, 3>& xyz) {
    Bytes out;
    out.text("XYZ ").word(0);
    for (const Fixed value : xyz) out.number(value);
    return out.bytes();
}

/// multiLocalizedUnicodeType with one text in English.
std::string text_tag(std::string_view ascii) {
    Bytes out;
    out.text("mluc").word(0).word(1).word(12).text("enUS");
    out.word(static_cast<std::uint32_t>(2 * ascii.size())).word(28);
    for (const char c : ascii) out.half(static_cast<unsigned char>(c));
    return out.bytes();
}

/// parametricCurveType 3: (a x + b)^g from d on, c x below. IEC 61966-2-1:1999, 5.2.
std::string curve_tag() {
    Bytes out;
    out.text("para").word(0).half(3).half(0);
    for (const double value : {2.4, 1 / 1.055, 0.055 / 1.055, 1 / 12.92, 0.04045}) out.number(fixed(value));
    return out.bytes();
}

std::string adaptation_tag() {
    Bytes out;
    out.text("sf32").word(0);
    for (const Vector3& row : bradford_d65_to_d50())
        for (const double value : row) out.number(fixed(value));
    return out.bytes();
}

/// ICC.1:2010, 7.2. `size` of the whole profile.
std::string header(std::size_t size) {
    Bytes out;
    out.word(static_cast<std::uint32_t>(size)).word(0).word(0x04200000);
    out.text("mntr").text("RGB ").text("XYZ ");
    for (const int part : {2026, 1, 1, 0, 0, 0})
        out.half(static_cast<std::uint16_t>(part));  // a fixed day: same bytes always
    out.text("acsp");
    for (int i = 0; i < 7; ++i) out.word(0);  // platform, flags, device, attributes, perceptual intent
    for (const double value : white_D50) out.number(fixed(value));
    for (int i = 0; i < 12; ++i) out.word(0);  // creator, profile id not computed, reserved
    return out.bytes();
}

}  // namespace

Matrix3 bradford_d65_to_d50() {
    const Vector3 from = times(bradford, xyz_of(white_D65)), to = times(bradford, white_D50);
    Matrix3 scale{};
    for (std::size_t i = 0; i < 3; ++i) scale[i][i] = to[i] / from[i];
    return times(inverse(bradford), times(scale, bradford));
}

Matrix3 linear_srgb_to_xyz_d50() {
    Matrix3 columns{};
    for (std::size_t j = 0; j < 3; ++j)
        for (std::size_t i = 0; i < 3; ++i) columns[i][j] = xyz_of(primaries[j])[i];
    // Each primary is as bright as it takes for all three together to be white.
    const Vector3 bright = times(inverse(columns), xyz_of(white_D65));
    for (Vector3& row : columns)
        for (std::size_t j = 0; j < 3; ++j) row[j] *= bright[j];
    return times(bradford_d65_to_d50(), columns);
}

std::string srgb_profile() {
    const Matrix3 matrix = linear_srgb_to_xyz_d50();
    std::array<std::array<Fixed, 3>, 3> colour{};
    std::array<Fixed, 3> white{};
    for (std::size_t i = 0; i < 3; ++i) {
        white[i] = fixed(white_D50[i]);
        colour[0][i] = fixed(matrix[i][0]);
        colour[2][i] = fixed(matrix[i][2]);
        // What rounding leaves goes to green, so that all three make white to the last bit.
        colour[1][i] = white[i] - colour[0][i] - colour[2][i];
    }
    struct Tag {
        std::string_view name;
        std::string bytes;
    };
    const std::vector<Tag> tags{{"desc", text_tag("sRGB")},
                                {"cprt", text_tag("Figures of IEC 61966-2-1; free to use")},
                                {"wtpt", xyz_tag(white)},
                                {"chad", adaptation_tag()},
                                {"rXYZ", xyz_tag(colour[0])},
                                {"gXYZ", xyz_tag(colour[1])},
                                {"bXYZ", xyz_tag(colour[2])},
                                {"rTRC", curve_tag()},
                                {"gTRC", ""},  // the red one's
                                {"bTRC", ""}};
    Bytes table;
    std::string data;
    const std::size_t begin = 128 + 4 + 12 * tags.size();
    std::size_t offset = 0, size = 0;
    table.word(static_cast<std::uint32_t>(tags.size()));
    for (const Tag& tag : tags) {
        if (!tag.bytes.empty()) {
            offset = begin + data.size();
            size = tag.bytes.size();
            data += tag.bytes;
            while (data.size() % 4 != 0) data += '\0';
        }
        table.text(tag.name).word(static_cast<std::uint32_t>(offset)).word(static_cast<std::uint32_t>(size));
    }
    return header(begin + data.size()) + table.bytes() + data;
}

}  // namespace ebbtide::report
