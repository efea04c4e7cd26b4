#include "report/picture.hpp"

#include <cmath>
#include <numbers>

namespace ebbtide::report {
namespace {

constexpr Colour from_hex(unsigned rgb) {
    return {((rgb >> 16) & 0xff) / 255.0, ((rgb >> 8) & 0xff) / 255.0, (rgb & 0xff) / 255.0};
}

bool starts_character(char byte) {
    return (static_cast<unsigned char>(byte) & 0xc0) != 0x80;
}

/// In ems, on the wide side; letters beyond Latin, Greek and Cyrillic may be as wide as they are high.
double width_of_one(std::string_view text, std::size_t at) {
    const auto byte = static_cast<unsigned char>(text[at]);
    if (text.substr(at).starts_with("–") || text.substr(at).starts_with("−")) return 0.66;
    if (byte >= 0xe1) return 1.0;
    constexpr std::string_view narrow = " .,:;()[]|!'ijlI", wide = "mwMW@%";
    if (narrow.find(text[at]) != std::string_view::npos) return 0.36;
    if (wide.find(text[at]) != std::string_view::npos) return 1.0;
    return byte >= 'A' && byte <= 'Z' ? 0.76 : 0.63;
}

}  // namespace

Colour colour_of(Tint tint) {
    switch (tint) {
        case Tint::ink:
            return from_hex(0x1C2126);
        case Tint::muted:
            return from_hex(0x5E6872);
        case Tint::rule:
            return from_hex(0xD9DDD8);
        case Tint::positive:
            return from_hex(0x1F6FB2);
        case Tint::negative:
            return from_hex(0xB84E14);
        case Tint::paper:
            return {1, 1, 1};
    }
    return {};
}

std::string_view name_of(Tint tint) {
    switch (tint) {
        case Tint::ink:
            return "ink";
        case Tint::muted:
            return "muted";
        case Tint::rule:
            return "rule";
        case Tint::positive:
            return "positive";
        case Tint::negative:
            return "negative";
        case Tint::paper:
            return "paper";
    }
    return "";
}

double estimated_width(std::string_view text, double size) {
    double ems = 0;
    for (std::size_t i = 0; i < text.size(); ++i)
        if (starts_character(text[i])) ems += width_of_one(text, i);
    return ems * size;
}

std::string fitted(std::string_view text, double size, double width) {
    if (estimated_width(text, size) <= width) return std::string(text);
    double room = width - size;
    std::size_t end = 0;
    for (std::size_t i = 0; i < text.size(); ++i) {
        if (!starts_character(text[i])) continue;
        end = i;
        room -= width_of_one(text, i) * size;
        if (room < 0) break;
    }
    return std::string(text.substr(0, end)) + "…";
}

Picture mark_of(plan::Conformity conformity, double size) {
    using enum plan::Conformity;
    Picture mark{size, size, "", {}};
    const double middle = size / 2;
    const double radius = size * 0.42;
    if (conformity == fail) {
        const double low = middle - radius * 0.92, high = middle + radius * 0.92;
        mark.shapes.emplace_back(Area{{{low, low}, {high, low}, {high, high}, {low, high}}, Tint::ink});
        return mark;
    }
    mark.shapes.emplace_back(Disc{{middle, middle}, radius, Tint::ink, conformity == pass});
    if (conformity == conditional_pass || conformity == conditional_fail) {
        Area half;
        const double side = conformity == conditional_pass ? -1 : 1;
        for (int i = 0; i <= 24; ++i) {
            const double angle = std::numbers::pi * (i / 24.0 - 0.5);
            half.points.push_back(
                {middle + side * radius * std::cos(angle), middle + radius * std::sin(angle)});
        }
        mark.shapes.emplace_back(std::move(half));
    }
    return mark;
}

}  // namespace ebbtide::report
