#include "decay/law.hpp"

#include <array>
#include <string>
#include <utility>
#include <vector>

#include "decay/sheet_laws.hpp"
#include "decay/short_hold.hpp"
#include "decay/through_sensor.hpp"
#include "lanes/exp_log.hpp"

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
            const std::span<double> fall = fit::column_of(columns, k);
            const double rate = 1 / theta[k];
            for (std::size_t i = 0; i < t.size(); ++i) fall[i] = -rate * t[i];
            lanes::exp_all(fall, fall);
            if (slopes.cols() == 0) continue;
            const std::span<double> slope = fit::column_of(slopes, k);
            for (std::size_t i = 0; i < t.size(); ++i) slope[i] = rate * t[i] * fall[i];
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
        const std::span<double> fall = fit::column_of(columns, 0);
        std::vector<double> log_z(t.size()), z(t.size());
        for (std::size_t i = 0; i < t.size(); ++i) log_z[i] = t[i] / theta[0];
        lanes::log_all(log_z, log_z);
        for (double& value : log_z) value *= b;
        lanes::exp_all(log_z, z);
        for (std::size_t i = 0; i < t.size(); ++i) fall[i] = -z[i];
        lanes::exp_all(fall, fall);
        if (slopes.cols() == 0) return;
        const std::span<double> by_time = fit::column_of(slopes, 0), by_exponent = fit::column_of(slopes, 1);
        for (std::size_t i = 0; i < t.size(); ++i) {
            // fall * z vanishes at both ends; where z overflows, 0 * infinity would not.
            const double steep = fall[i] > 0 && z[i] > 0 ? fall[i] * z[i] : 0;
            by_time[i] = b * steep;
            by_exponent[i] = steep > 0 ? -steep * log_z[i] : 0;
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
        const std::span<double> fall = fit::column_of(columns, 0);
        std::vector<double> log_widened(t.size());
        for (std::size_t i = 0; i < t.size(); ++i) log_widened[i] = 1 + t[i] / theta[0];
        lanes::log_all(log_widened, log_widened);
        for (std::size_t i = 0; i < t.size(); ++i) {
            // What was lost when 1 was added: a large power would make much of it.
            const double ratio = t[i] / theta[0], widened = 1 + ratio;
            log_widened[i] += (ratio - (widened - 1)) / widened;
            fall[i] = -q * log_widened[i];
        }
        lanes::exp_all(fall, fall);
        if (slopes.cols() == 0) return;
        const std::span<double> by_time = fit::column_of(slopes, 0), by_power = fit::column_of(slopes, 1);
        for (std::size_t i = 0; i < t.size(); ++i) {
            const double ratio = t[i] / theta[0];
            by_time[i] = fall[i] * q * ratio / (1 + ratio);
            by_power[i] = -fall[i] * q * log_widened[i];
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
