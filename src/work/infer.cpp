#include "work/infer.hpp"

#include <algorithm>
#include <cmath>
#include <utility>

namespace ebbtide::work {
namespace {

using sheet::Estimate;
using sheet::Identified;
using sheet::InversionState;

constexpr double two_sided = 1.96;

/// times `factor`, whose relative uncertainty is put to the ends on the logarithmic scale.
Estimate scaled(const Estimate& of, double factor, double u_relative) {
    Estimate out = of;
    const double middle = of.value.value_or(of.low.value_or(of.high.value_or(1)));
    const auto end = [&](const std::optional<double>& at, double direction) -> std::optional<double> {
        if (!at) return std::nullopt;
        const double distance = std::abs(std::log(*at / middle));
        return factor * middle * std::exp(direction * std::hypot(distance, two_sided * u_relative));
    };
    if (of.value) out.value = factor * *of.value;
    out.low = end(of.low, -1);
    out.high = end(of.high, 1);
    return out;
}

bool has_flag(const std::vector<plan::Flag>& flags, plan::FlagCode code) {
    return std::ranges::any_of(flags, [&](const plan::Flag& flag) { return flag.code == code; });
}

void say_resistivity(InferredRun& out, const BenchSheet& sheet, sheet::Second second,
                     const std::optional<RingMeasurement>& rings) {
    const Estimate& T = out.inversion.time_constant_s;
    if (T.identified == Identified::not_asked || T.identified == Identified::not_determined) return;
    const double gap_m = sheet.sheet.gap_m();
    out.told = sheet.tells_resistivity() ? Told::resistivity : Told::product;
    out.resistance_capacitance_s_m2 = scaled(T, sheet::resistance_capacitance_s_m2(1, gap_m), 0);
    if (out.told == Told::resistivity)
        out.resistivity_ohm_sq = scaled(T, 1 / sheet.time_per_ohm_s(), sheet.u_capacitance);
    else if (sheet.source == CapacitanceSource::by_lengths && T.value)
        out.by_lengths_ohm_sq = *T.value / sheet.time_per_ohm_s();

    const std::optional<double> resistivity =
        out.resistivity_ohm_sq.value ? out.resistivity_ohm_sq.value : out.by_lengths_ohm_sq;
    const std::optional<double> found = out.inversion.second.value;
    if (found && second == sheet::Second::contact && resistivity)
        out.contact_ohm_m = *found * *resistivity * gap_m;
    if (found && second == sheet::Second::field && out.figures.electrode_V)
        out.field_coefficient = *found / std::sqrt(std::abs(*out.figures.electrode_V) / gap_m);
    if (!rings || !resistivity || !T.low || !T.high) return;
    const Estimate whole = scaled(T, 1 / sheet.time_per_ohm_s(), sheet.u_capacitance);
    out.rings = sheet::compare_with_rings(*resistivity, *whole.low, *whole.high, rings->rings,
                                          rings->resistance_ohm, rings->u_relative);
}

}  // namespace

sheet::SeenFall seen_fall(const fit::CurveStore& curve, const decay::RunTrace& run,
                          const decay::Figures& figures, const plan::Bench& bench,
                          const std::optional<double>& clamps_induce) {
    sheet::SeenFall out;
    out.curve = curve.view();
    out.held_V = figures.held_V.value_or(figures.initial_voltage_V.value_or(0));
    if (figures.electrode_V && *figures.electrode_V != 0) out.clamp_V = std::abs(*figures.electrode_V);
    out.induced_fraction = bench.induced_fraction(figures.polarity == plan::Polarity::positive);
    if (!out.induced_fraction) out.induced_fraction = clamps_induce;
    // No fixture known to us induces more; below it a reading proves no charge while nobody knows what this
    // one does.
    constexpr double surely_charged = 0.75;
    if (!clamps_induce && out.clamp_V && out.held_V < surely_charged * *out.clamp_V) out.clamp_V.reset();
    // A release that the sensor itself showed carries its lag already.
    if (decay::release_is_known(figures)) {
        out.between.lag_s = bench.sensor.lag_s;
        out.u_lag_s = bench.sensor.u_lag_s;
        out.between.fall_s = figures.release_delay_s.value_or(0);
    }
    if (run.electrode && !run.starts_charged && figures.charging_s && *figures.charging_s > 0)
        out.between.hold_s = figures.charging_s;
    out.u_release_s = figures.u_release_s;
    out.u_zero_V = figures.u_zero_V;
    return out;
}

std::string_view name_of(Told told) {
    switch (told) {
        case Told::nothing:
            return "nothing";
        case Told::product:
            return "product";
        case Told::resistivity:
            return "resistivity";
    }
    return "";
}

std::string_view name_of(InversionState state) {
    switch (state) {
        case InversionState::not_run:
            return "not_run";
        case InversionState::determined:
            return "determined";
        case InversionState::at_most:
            return "at_most";
        case InversionState::at_least:
            return "at_least";
        case InversionState::took_no_charge:
            return "took_no_charge";
        case InversionState::charge_unproven:
            return "charge_unproven";
        case InversionState::refused:
            return "refused";
    }
    return "";
}

std::string_view name_of(Identified identified) {
    switch (identified) {
        case Identified::not_asked:
            return "not_asked";
        case Identified::free:
            return "free";
        case Identified::bounded_above:
            return "bounded_above";
        case Identified::bounded_below:
            return "bounded_below";
        case Identified::not_determined:
            return "not_determined";
    }
    return "";
}

Result<InferModel> infer_model(const InferRequest& request) {
    if (!request.measure.bench)
        return Error{Fault::bad_input, "a resistivity cannot be told without the fixture", "--bench",
                     "Name the bench file that the recording was made with"};
    auto sheet = sheet_of(*request.measure.bench, request.question);
    if (!sheet) return sheet.error();
    auto used = sheet::fall_model(sheet->sheet, request.second);
    if (!used) return used.error();
    InferModel out{*std::move(sheet), *std::move(used)};
    if (out.sheet.other && request.second == sheet::Second::nothing) {
        auto other = sheet::fall_model(*out.sheet.other);
        if (!other) return other.error();
        out.other = *std::move(other);
    }
    return out;
}

InferredRun infer_run(const MeasuredRun& measured, const decay::RunTrace& run, const InferModel& model,
                      const InferRequest& request) {
    const plan::Bench& bench = *request.measure.bench;
    InferredRun out;
    out.run_id = measured.run_id;
    out.figures = measured.figures;
    out.flags = measured.flags;
    const fit::CurveStore curve = decay::fall_of(run, measured.figures, bench);
    const sheet::SeenFall fall = seen_fall(curve, run, measured.figures, bench, model.sheet.clamps_induce);
    out.inversion = sheet::invert(model.used, fall);
    // What measure() calls uncharged has no resistivity, whatever the fit.
    if (has_flag(measured.flags, plan::FlagCode::induced_not_charged) &&
        out.inversion.state != InversionState::took_no_charge) {
        out.inversion = {};
        out.inversion.state = InversionState::took_no_charge;
        out.inversion.reason = "what it showed fell with the clamps (flag induced_not_charged)";
    }
    say_resistivity(out, model.sheet, request.second, request.rings);
    if (out.inversion.state != InversionState::determined || !model.other) return out;
    if (const auto other = sheet::best_fit(*model.other, fall)) {
        out.operators_differ = other->time_constant_s / *out.inversion.time_constant_s.value - 1;
        if (out.inversion.rss > 0) out.other_residual_ratio = std::sqrt(other->rss / out.inversion.rss);
    }
    return out;
}

Result<InferredFile> infer(recording::Source& source, const InferRequest& request, const InferModel& model) {
    InferredFile out;
    auto measured = measure(source, request.measure, [&](const MeasuredRun& one, const decay::RunTrace& run) {
        out.runs.push_back(infer_run(one, run, model, request));
    });
    if (!measured) return measured.error();
    out.flags = std::move(measured->flags);
    return out;
}

}  // namespace ebbtide::work
