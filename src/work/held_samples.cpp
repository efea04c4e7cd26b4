#include "work/held_samples.hpp"

#include <algorithm>
#include <cmath>

#include "work/bench_volts.hpp"

namespace ebbtide::work {

using trace::Quantity;

HeldSamples::HeldSamples(const std::vector<trace::ChannelDescription>& channels, bool along_electrode,
                         const std::optional<plan::Bench>& bench)
    : bench_(bench) {
    for (std::size_t i = 0; i < channels.size(); ++i) {
        const Quantity quantity = channels[i].quantity;
        if (quantity == Quantity::specimen_voltage && !channels_.specimen) channels_.specimen = i;
        if (quantity == Quantity::electrode_voltage && !channels_.electrode) channels_.electrode = i;
        if (quantity == Quantity::release_marker && !channels_.marker) channels_.marker = i;
    }
    follows_electrode_ = along_electrode && channels_.electrode;
}

plan::VoltageScale HeldSamples::drive_scale() const {
    if (!bench_) return {};
    return follows_electrode_ ? bench_->electrode : bench_->sensor.scale;
}

void HeldSamples::append(const recording::Block& block) {
    const auto add = [&](SampleWindow& window, const std::optional<std::size_t>& channel) {
        if (channel) window.append(block.channels[*channel].time_s, block.channels[*channel].value);
    };
    add(specimen_, channels_.specimen);
    add(electrode_, channels_.electrode);
    add(marker_, channels_.marker);
}

std::optional<double> HeldSamples::drop_before(std::uint64_t oldest) {
    SampleWindow& drive = follows_electrode_ ? electrode_ : specimen_;
    drive.drop_before(oldest);
    if (drive.view().empty()) return {};
    const double oldest_s = drive.view().time_s.front();
    (follows_electrode_ ? specimen_ : electrode_).drop_before_time(oldest_s);
    marker_.drop_before_time(oldest_s);
    return oldest_s;
}

void HeldSamples::clear() {
    specimen_.clear();
    electrode_.clear();
    marker_.clear();
}

std::optional<CutRun> HeldSamples::cut_of(const trace::RunSpan& span) const {
    std::optional<CutRun> out(std::in_place);
    out->drive = drive().slice(span.first, span.end);
    const trace::Samples& samples = out->drive;
    if (samples.size() < 3) return {};
    out->first_s = samples.time_s.front();
    out->last_s = std::nextafter(samples.time_s.back(), INFINITY);
    const auto recorded_of = [&](const SampleWindow& window) {
        return window.view().between(out->first_s, out->last_s);
    };
    out->specimen = follows_electrode_ ? recorded_of(specimen_) : samples;
    out->electrode = follows_electrode_ ? samples : recorded_of(electrode_);
    out->marker = recorded_of(marker_);
    if (out->specimen.size() < 3) return {};
    // So small that squares vanish: no charge, and no time that anything could take.
    if (!(span.height > smallest_figure && samples.time_s.back() - samples.time_s.front() > smallest_figure))
        return {};

    out->specimen_V = in_volts(out->specimen, bench_ ? &bench_->sensor.scale : nullptr);
    out->electrode_V = in_volts(out->electrode, bench_ ? &bench_->electrode : nullptr);
    decay::RunTrace& trace = out->trace;
    trace.specimen = {out->specimen.time_s, out->specimen_V};
    if (channels_.electrode) trace.electrode = trace::Samples{out->electrode.time_s, out->electrode_V};
    if (channels_.marker) trace.marker = out->marker;
    trace.starts_charged = span.starts_charged;
    trace.sign = span.sign;
    trace.base = span.base;
    trace.height = span.height;
    const auto time_at = [&](std::uint64_t index) {
        return samples
            .time_s[std::min<std::size_t>(static_cast<std::size_t>(index - span.first), samples.size() - 1)];
    };
    trace.charge_start_s = time_at(span.charge_start);
    trace.last_high_s = time_at(span.last_high);
    trace.first_low_s = time_at(span.first_low);
    return out;
}

}  // namespace ebbtide::work
