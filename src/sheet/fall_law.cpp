#include "sheet/fall_law.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <memory>
#include <span>
#include <vector>

#include "lanes/exp_log.hpp"
#include "sheet/forward.hpp"

namespace ebbtide::sheet {
namespace {

constexpr double gone = 50;        // e^-50 of a mode is nothing
constexpr double apart = 1e-5;     // poles closer than this are parted: costs 1e-5 of a coefficient's change
constexpr double log_step = 1e-3;  // of slopes by differences; wrong by its square over six

/// value * exp(-rate t), and what it changes with log T: (slope + slope_t t) exp(-rate t).
struct Term {
    double rate = 0, value = 0, slope = 0, slope_t = 0;
};

double parted(double rate, double pole) {
    if (std::abs(rate - pole) >= apart * pole) return rate;
    return pole * (rate < pole ? 1 - apart : 1 + apart);
}

/// A sheet's modes through first-order poles (the clamps' fall, the sensor), each of which starts settled: a
/// product of poles is a sum of exponentials, that of p weighted with the product of q / (q - p) over the
/// others.
std::vector<Term> terms_of(const RelativeModes& modes, double T, std::span<const double> poles) {
    std::vector<Term> out;
    std::vector<Term> of_pole(poles.size());
    for (std::size_t j = 0; j < poles.size(); ++j) {
        of_pole[j].rate = poles[j];
        of_pole[j].value = modes.induced_fraction;
        for (std::size_t i = 0; i < poles.size(); ++i)
            if (i != j) of_pole[j].value *= poles[i] / (poles[i] - poles[j]);
    }
    for (std::size_t k = 0; k < modes.rate.size(); ++k) {
        double rate = modes.rate[k] / T;
        for (const double pole : poles) rate = parted(rate, pole);
        double product = 1, turning = 0;
        for (const double pole : poles) {
            product *= pole / (pole - rate);
            turning -= rate / (pole - rate);
        }
        const double value = modes.weight[k] * product;
        out.push_back({rate, value, value * turning, value * rate});
        for (std::size_t j = 0; j < poles.size(); ++j) {
            const double pole = poles[j];
            double others = modes.weight[k];
            for (std::size_t i = 0; i < poles.size(); ++i)
                if (i != j) others *= poles[i] / (poles[i] - pole);
            of_pole[j].value += others * rate / (rate - pole);
            of_pole[j].slope += others * rate * pole / ((rate - pole) * (rate - pole));
        }
    }
    out.insert(out.end(), of_pole.begin(), of_pole.end());
    return out;
}

/// sign * sum of terms at t + later, added to values and, unless they are empty, slopes. Ascending t.
void add(const std::vector<Term>& terms, std::span<const double> t, double later, double sign,
         std::span<double> values, std::span<double> slopes) {
    std::vector<double> fall(t.size());
    for (const Term& term : terms) {
        std::size_t count = 0;
        while (count < t.size() && !(term.rate * (t[count] + later) > gone)) {
            fall[count] = -term.rate * (t[count] + later);
            ++count;
        }
        const auto part = std::span(fall).first(count);
        lanes::exp_all(part, part);
        for (std::size_t i = 0; i < count; ++i) values[i] += sign * term.value * fall[i];
        if (slopes.empty()) continue;
        for (std::size_t i = 0; i < count; ++i)
            slopes[i] += sign * (term.slope + term.slope_t * (t[i] + later)) * fall[i];
    }
}

/// The poles after the sheet: clamps and sensor; of a charge that began at once, the sensor alone.
struct Poles {
    std::vector<double> falling, rising;
};

Poles poles_of(const Between& between) {
    Poles out;
    if (between.lag_s > 0) out.rising.push_back(1 / between.lag_s);
    out.falling = out.rising;
    if (between.fall_s > 0) {
        double pole = 1 / between.fall_s;
        // A fall like the lag: parted by a thousandth, which nobody knows of either.
        for (const double other : out.rising)
            if (std::abs(pole - other) < 1e-3 * other) pole = other * (1 + 1e-3);
        out.falling.push_back(pole);
    }
    return out;
}

void write(const RelativeModes& modes, double T, const Between& between, const Poles& poles,
           std::span<const double> t, std::span<double> values, std::span<double> slopes) {
    std::ranges::fill(values, 0.0);
    std::ranges::fill(slopes, 0.0);
    add(terms_of(modes, T, poles.falling), t, 0, 1, values, slopes);
    if (between.hold_s) add(terms_of(modes, T, poles.rising), t, *between.hold_s, -1, values, slopes);
}

fit::Law bare_law(std::string name) {
    fit::Law law;
    law.name = std::move(name);
    law.amplitudes = {"amplitude_V"};
    law.shape = {{.name = "time_constant_s"}};
    law.slopes = {{0, fall_parameter::time_constant}};
    law.from_zero = true;
    law.keeps_x = true;
    return law;
}

/// The polynomial through six neighbours of evenly spaced nodes, at least six (Lagrange).
struct Neighbours {
    static constexpr std::size_t count = 6;
    std::size_t first = 0;
    std::array<double, count> weight{};
    Neighbours(double place, std::size_t nodes) {
        const double last = static_cast<double>(nodes - count);
        const double base = std::clamp(std::floor(place) - 2, 0.0, last);
        first = static_cast<std::size_t>(base);
        const double x = place - base;
        // Products over the others from either side, over those of (i - j).
        constexpr std::array<double, count> per{-1.0 / 120, 1.0 / 24,  -1.0 / 12,
                                                1.0 / 12,   -1.0 / 24, 1.0 / 120};
        double before = 1, after = 1;
        for (std::size_t i = 0; i < count; ++i) {
            weight[i] = per[i] * before;
            before *= x - static_cast<double>(i);
        }
        for (std::size_t i = count; i-- > 0;) {
            weight[i] *= after;
            after *= x - static_cast<double>(i);
        }
    }
    template <class At>
    [[nodiscard]] double of(At at) const {
        double out = 0;
        for (std::size_t i = 0; i < count; ++i) out += weight[i] * at(first + i);
        return out;
    }
};

/// Modes at any ratio: each mode's rate and weight changes smoothly with it, and modes never change places.
class ModesByContact {
  public:
    static std::optional<ModesByContact> of(const TimedSheet& sheet) {
        ModesByContact out;
        for (std::size_t i = 0; i < nodes; ++i) {
            auto modes = sheet.modes_with_contact(std::exp(low() + static_cast<double>(i) * step()));
            if (!modes) return std::nullopt;
            const auto gone_early = std::ranges::lower_bound(modes->rate, fastest) - modes->rate.begin();
            const auto slow = std::max<std::ptrdiff_t>(gone_early, 1);
            out.count_ = i == 0 ? static_cast<std::size_t>(slow) : std::min(out.count_, modes->rate.size());
            for (double& rate : modes->rate) rate = std::log(rate);
            out.node_.push_back(*std::move(modes));
        }
        return out;
    }
    [[nodiscard]] RelativeModes at(double ratio) const {
        const Neighbours near((std::log(ratio) - low()) / step(), nodes);
        RelativeModes out;
        out.induced_fraction = node_.front().induced_fraction;
        double left = 1 - out.induced_fraction;
        for (std::size_t k = 0; k < count_; ++k) {
            out.rate.push_back(std::exp(near.of([&](std::size_t i) { return node_[i].rate[k]; })));
            out.weight.push_back(near.of([&](std::size_t i) { return node_[i].weight[k]; }));
            left -= out.weight.back();
        }
        out.weight.back() += left;
        return out;
    }

  private:
    static constexpr std::size_t nodes = 56;
    static double low() { return std::log(least_contact_ratio); }
    static double step() {
        return std::log(most_contact_ratio / least_contact_ratio) / static_cast<double>(nodes - 1);
    }
    std::vector<RelativeModes> node_;  // logarithms for rates
    std::size_t count_ = 0;
    static constexpr double fastest = 3000;  // over 1 / T: gone by T / 500
};

/// Readings over time for evenly spaced exponents, on times that lie closer the earlier they are.
class ReadingsByField {
  public:
    static Result<ReadingsByField> of(const TimedSheet& sheet) {
        ReadingsByField out;
        // As the forward model allows: e^50 where the whole voltage lies over half a strip.
        const double narrowest_m = sheet.sheet().width_m().minCoeff() / 2;
        out.highest_ = std::min(2.5, 49 * std::sqrt(narrowest_m / sheet.gap_m()));
        const double one_ohm = 1 / sheet.time_per_ohm_s();  // T is 1 s
        std::vector<double> times;
        for (std::size_t j = 0; j < points; ++j) times.push_back(time_at(j));
        constexpr double clamp_V = 1000;  // only beta sqrt(V / gap) counts
        std::vector<Material> materials(nodes, Material{one_ohm});
        for (std::size_t i = 0; i < nodes; ++i) {
            const double exponent = out.highest_ * static_cast<double>(i) / static_cast<double>(nodes - 1);
            materials[i].field_coefficient = exponent / std::sqrt(clamp_V / sheet.gap_m());
        }
        Clamps clamps;
        clamps.voltage_V = clamp_V;
        Options options;
        options.tolerance = 1e-5;
        const std::vector<Clamps> everywhere(nodes, clamps);
        // The linear one by its modes, all others four at a time.
        auto linear = simulate(sheet.sheet(), materials.front(), clamps, times, options);
        if (!linear) return linear.error();
        auto courses = simulate_all(sheet.sheet(), std::span(materials).subspan(1),
                                    std::span(everywhere).subspan(1), times, options);
        if (!courses) return courses.error();
        courses->insert(courses->begin(), *std::move(linear));
        for (Course& course : *courses) {
            for (double& reading : course.sensed_V) reading /= clamp_V;
            out.reading_.push_back(std::move(course.sensed_V));
        }
        return out;
    }

    [[nodiscard]] double highest() const { return highest_; }

    /// Over time_at(j), for one exponent.
    [[nodiscard]] std::vector<double> at(double exponent) const {
        const Neighbours near(exponent / highest_ * static_cast<double>(nodes - 1), nodes);
        std::vector<double> out(points);
        for (std::size_t j = 0; j < points; ++j)
            out[j] = near.of([&](std::size_t i) { return reading_[i][j]; });
        return out;
    }

    static double time_at(std::size_t j) { return bend * std::sinh(static_cast<double>(j) * spacing); }
    /// asinh(x) is the logarithm of this, the place that over the spacing.
    static double stretched(double t_over_T) {
        const double x = t_over_T / bend;
        return x + std::sqrt(x * x + 1);
    }
    static double place_of(double log_stretched) { return log_stretched / spacing; }
    static constexpr std::size_t points = 600;

  private:
    static constexpr std::size_t nodes = 25;
    static constexpr double bend = 1e-3, spacing = 0.0188;  // to t / T of 39
    std::vector<std::vector<double>> reading_;
    double highest_ = 0;
};

/// Through a first-order sensor of lag / T `lag`, which showed 1 before: straight between the times, exactly.
void lag_behind(std::vector<double>& reading, double lag) {
    double shown = 1, before = reading.front();
    for (std::size_t j = 0; j < reading.size(); ++j) {
        const double h = j == 0 ? 0 : ReadingsByField::time_at(j) - ReadingsByField::time_at(j - 1);
        const double now = reading[j];
        if (h > 0) {
            const double keep = std::exp(-h / lag), slope = (now - before) / h;
            // y' = (v - y) / lag for v straight.
            shown = now - slope * lag + (shown - before + slope * lag) * keep;
        }
        before = now;
        reading[j] = shown;
    }
}

fit::Law fall_through_contacts(const std::shared_ptr<const ModesByContact>& by_contact,
                               const Between& between) {
    fit::Law law = bare_law("sheet through its contacts");
    law.shape.push_back({.name = "contact_ratio",
                         .scales_with_x = false,
                         .grid_low = 1e-3,
                         .grid_high = 3,
                         .lowest = least_contact_ratio,
                         .highest = most_contact_ratio});
    law.slopes.push_back({0, fall_parameter::second});
    law.evaluate = [by_contact, between, poles = poles_of(between)](std::span<const double> t,
                                                                    std::span<const double> theta,
                                                                    fit::Block columns, fit::Block slopes) {
        const std::span<double> values = fit::column_of(columns, 0);
        if (slopes.cols() == 0) {
            write(by_contact->at(theta[1]), theta[0], between, poles, t, values, {});
            return;
        }
        write(by_contact->at(theta[1]), theta[0], between, poles, t, values, fit::column_of(slopes, 0));
        std::vector<double> below(t.size());
        const std::span<double> above = fit::column_of(slopes, 1);
        write(by_contact->at(theta[1] * std::exp(-log_step)), theta[0], between, poles, t, below, {});
        write(by_contact->at(theta[1] * std::exp(log_step)), theta[0], between, poles, t, above, {});
        for (std::size_t i = 0; i < t.size(); ++i) above[i] = (above[i] - below[i]) / (2 * log_step);
    };
    return law;
}

/// Readings of one exponent at times of a sheet of T, through clamps and sensor.
void show(std::vector<double> reading, double T, const Between& between, std::span<const double> t,
          std::span<double> out) {
    if (between.lag_s > 0) lag_behind(reading, between.lag_s / T);
    std::vector<double> place(t.size());
    for (std::size_t i = 0; i < t.size(); ++i)
        place[i] = ReadingsByField::stretched(std::max(0.0, t[i] - between.fall_s) / T);
    lanes::log_all(place, place);
    for (std::size_t i = 0; i < t.size(); ++i) {
        const double at = ReadingsByField::place_of(place[i]);
        const Neighbours near(at, ReadingsByField::points);
        out[i] = at > static_cast<double>(ReadingsByField::points - 1)
                     ? 0
                     : near.of([&](std::size_t j) { return reading[j]; });
    }
}

fit::Law fall_in_own_field(const std::shared_ptr<const ReadingsByField>& by_field, const Between& between) {
    fit::Law law = bare_law("sheet in its own field");
    law.shape.push_back({.name = "field_exponent",
                         .scales_with_x = false,
                         .grid_low = 0.03,
                         .grid_high = by_field->highest(),
                         .lowest = least_field_exponent,
                         .highest = by_field->highest()});
    law.slopes.push_back({0, fall_parameter::second});
    law.evaluate = [by_field, between](std::span<const double> t, std::span<const double> theta,
                                       fit::Block columns, fit::Block slopes) {
        const std::vector<double> reading = by_field->at(theta[1]);
        show(reading, theta[0], between, t, fit::column_of(columns, 0));
        if (slopes.cols() == 0) return;
        std::vector<double> below(t.size());
        const double down = std::exp(-log_step), up = std::exp(log_step);
        const std::span<double> by_time = fit::column_of(slopes, 0), by_exponent = fit::column_of(slopes, 1);
        show(reading, theta[0] * down, between, t, below);
        show(reading, theta[0] * up, between, t, by_time);
        for (std::size_t i = 0; i < t.size(); ++i) by_time[i] = (by_time[i] - below[i]) / (2 * log_step);
        show(by_field->at(theta[1] * down), theta[0], between, t, below);
        show(by_field->at(theta[1] * up), theta[0], between, t, by_exponent);
        for (std::size_t i = 0; i < t.size(); ++i)
            by_exponent[i] = (by_exponent[i] - below[i]) / (2 * log_step);
    };
    return law;
}

}  // namespace

fit::Law linear_fall(const RelativeModes& modes, const Between& between) {
    fit::Law law = bare_law("sheet");
    law.evaluate = [modes, between, poles = poles_of(between)](std::span<const double> t,
                                                               std::span<const double> theta,
                                                               fit::Block columns, fit::Block slopes) {
        write(modes, theta[0], between, poles, t, fit::column_of(columns, 0),
              slopes.cols() > 0 ? fit::column_of(slopes, 0) : std::span<double>{});
    };
    return law;
}

Result<FallModel> fall_model(const TimedSheet& sheet, Second second) {
    FallModel out{sheet, second, {}};
    if (second == Second::nothing) {
        out.law = [modes = sheet.modes()](const Between& between) { return linear_fall(modes, between); };
        return out;
    }
    if (second == Second::contact) {
        auto found = ModesByContact::of(sheet);
        if (!found)
            return Error{Fault::internal, "the modes of a sheet with contacts cannot be had", "sheet", {}};
        const auto shared = std::make_shared<const ModesByContact>(*std::move(found));
        out.law = [shared](const Between& between) { return fall_through_contacts(shared, between); };
        return out;
    }
    auto found = ReadingsByField::of(sheet);
    if (!found) return found.error();
    const auto shared = std::make_shared<const ReadingsByField>(*std::move(found));
    out.law = [shared](const Between& between) { return fall_in_own_field(shared, between); };
    return out;
}

}  // namespace ebbtide::sheet
