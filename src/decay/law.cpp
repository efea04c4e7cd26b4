#include "decay/law.hpp"

#include <array>
#include <cmath>
#include <string>
#include <utility>

#include "decay/sheet_laws.hpp"
#include "decay/short_hold.hpp"
#include "decay/through_sensor.hpp"

namespace ebbtide::decay {
namespace {

constexpr std::array<std::pair<LawKind, std::string_view>, 7> names{{
    {LawKind::exponential, "exponential"},
    {LawKind::two_exponentials, "two_exponentials"},
    {LawKind::three_exponentials, "three_exponentials"},
    {LawKind::stretched, "stretched"},
    {LawKind::power, "power"},
    {LawKind::backed_sheet, "backed_sheet"},
    {LawKind::hanging_sheet, "hanging_sheet"},
}};

fit::Law exponentials(std::size_t count) {
    fit::Law law;
    law.interchangeable = count > 1;
    for (std::size_t k = 0; k < count; ++k) {
        const std::string number = count > 1 ? "_" + std::to_string(k + 1) : "";
        law.amplitudes.push_back("amplitude" + number + "_V");
        law.shape.push_back({.name = "time_constant" + number + "_s"});
        law.slopes.push_back({k, k});
    }
    law.evaluate = [](std::span<const double> t, std::span<const double> theta, fit::Block columns,
                      fit::Block slopes) {
        for (std::size_t k = 0; k < theta.size(); ++k) {
            const auto column = static_cast<Eigen::Index>(k);
            const double rate = -1 / theta[k];
            for (std::size_t i = 0; i < t.size(); ++i)
                columns(static_cast<Eigen::Index>(i), column) = std::exp(rate * t[i]);
            if (slopes.cols() == 0) continue;
            for (std::size_t i = 0; i < t.size(); ++i) {
                const auto row = static_cast<Eigen::Index>(i);
                slopes(row, column) = -rate * t[i] * columns(row, column);
            }
        }
    };
    return law;
}

fit::Law stretched() {
    fit::Law law;
    law.amplitudes = {"amplitude_V"};
    law.shape = {{.name = "time_constant_s"},
                 {.name = "exponent",
                  .scales_with_x = false,
                  .grid_low = 0.15,
                  .grid_high = 3,
                  .lowest = 0.01,
                  .highest = 20}};
    law.slopes = {{0, 0}, {0, 1}};
    law.from_zero = true;
    law.evaluate = [](std::span<const double> t, std::span<const double> theta, fit::Block columns,
                      fit::Block slopes) {
        const double b = theta[1];
        for (std::size_t i = 0; i < t.size(); ++i) {
            const auto row = static_cast<Eigen::Index>(i);
            const double log_ratio = std::log(t[i] / theta[0]);
            const double z = t[i] > 0 ? std::exp(b * log_ratio) : 0;
            const double fall = std::exp(-z);
            columns(row, 0) = fall;
            if (slopes.cols() == 0) continue;
            // fall * z vanishes at both ends; where z overflows, 0 * infinity would not.
            const double steep = fall > 0 && z > 0 ? fall * z : 0;
            slopes(row, 0) = b * steep;
            slopes(row, 1) = steep > 0 ? -steep * b * log_ratio : 0;
        }
    };
    return law;
}

fit::Law power() {
    fit::Law law;
    law.amplitudes = {"amplitude_V"};
    law.shape = {{.name = "time_constant_s"},
                 {.name = "power",
                  .scales_with_x = false,
                  .grid_low = 0.1,
                  .grid_high = 10,
                  .lowest = 1e-3,
                  .highest = 1e4}};
    law.slopes = {{0, 0}, {0, 1}};
    law.from_zero = true;
    law.evaluate = [](std::span<const double> t, std::span<const double> theta, fit::Block columns,
                      fit::Block slopes) {
        const double q = theta[1];
        for (std::size_t i = 0; i < t.size(); ++i) {
            const auto row = static_cast<Eigen::Index>(i);
            const double ratio = t[i] / theta[0];
            const double log_widened = std::log1p(ratio);
            const double fall = std::exp(-q * log_widened);
            columns(row, 0) = fall;
            if (slopes.cols() == 0) continue;
            slopes(row, 0) = fall * q * ratio / (1 + ratio);
            slopes(row, 1) = -fall * q * log_widened;
        }
    };
    return law;
}

fit::Law plain_law(LawKind kind, const Circumstances& circumstances) {
    switch (kind) {
        case LawKind::exponential:
            return exponentials(1);
        case LawKind::two_exponentials:
            return exponentials(2);
        case LawKind::three_exponentials:
            return exponentials(3);
        case LawKind::stretched:
            return stretched();
        case LawKind::power:
            return power();
        case LawKind::backed_sheet:
            return backed_sheet();
        case LawKind::hanging_sheet:
            return hanging_sheet(circumstances.modes.value());
    }
    return {};
}

fit::Law seen_through(const Sensor& sensor, fit::Law law, LawKind kind, const Circumstances& circumstances) {
    switch (kind) {
        case LawKind::exponential:
        case LawKind::two_exponentials:
        case LawKind::three_exponentials:
            return through_sensor(std::move(law), sensor, ModeSum{});
        case LawKind::stretched:
            return through_sensor(std::move(law), sensor, [](auto theta) { return theta[1]; });
        case LawKind::power:
            return through_sensor(std::move(law), sensor, [](auto) { return 1.0; });
        case LawKind::backed_sheet:
            return through_sensor(std::move(law), sensor, backed_modes());
        case LawKind::hanging_sheet:
            return through_sensor(std::move(law), sensor, hanging_modes_of(circumstances.modes.value()));
    }
    return law;
}

/// Only where nothing bends the plain law.
fit::Form form_of(LawKind kind, const Circumstances& circumstances) {
    if (circumstances.lag_s != 0 || circumstances.hold_s) return fit::Form::other;
    switch (kind) {
        case LawKind::exponential:
        case LawKind::two_exponentials:
        case LawKind::three_exponentials:
            return fit::Form::exponentials;
        case LawKind::stretched:
            return fit::Form::stretched;
        case LawKind::power:
        case LawKind::backed_sheet:
        case LawKind::hanging_sheet:
            break;
    }
    return fit::Form::other;
}

}  // namespace

std::string_view name_of(LawKind kind) {
    for (const auto& [known, name] : names)
        if (known == kind) return name;
    return {};
}

std::optional<LawKind> law_kind_of(std::string_view name) {
    for (const auto& [kind, known] : names)
        if (known == name) return kind;
    return std::nullopt;
}

std::vector<LawKind> all_law_kinds() {
    std::vector<LawKind> out;
    for (const auto& entry : names) out.push_back(entry.first);
    return out;
}

std::vector<LawKind> law_kinds_under(const Circumstances& circumstances) {
    std::vector<LawKind> out = all_law_kinds();
    if (!circumstances.modes) std::erase(out, LawKind::hanging_sheet);
    return out;
}

fit::Law law_of(LawKind kind, const Offset& offset, const Circumstances& circumstances) {
    fit::Law law = plain_law(kind, circumstances);
    if (circumstances.lag_s > 0)
        law = seen_through({circumstances.lag_s, circumstances.start_ratio}, std::move(law), kind,
                           circumstances);
    if (circumstances.hold_s) law = after_short_hold(std::move(law), *circumstances.hold_s);
    law.name = name_of(kind);
    law.form = form_of(kind, circumstances);
    switch (offset.kind) {
        case Offset::Kind::free:
            return with_free_offset(std::move(law), "offset_V");
        case Offset::Kind::minus_amplitude:
            return with_offset_minus_amplitude(std::move(law));
        case Offset::Kind::stated:
            law.constant = offset.value_V;
            return law;
    }
    return law;
}

}  // namespace ebbtide::decay
