#include "work/measuring.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <utility>

#include "basis/sha256.hpp"
#include "trace/cutter.hpp"
#include "work/bench_volts.hpp"
#include "work/notices.hpp"
#include "work/run_figures.hpp"
#include "work/sample_window.hpp"

namespace ebbtide::work {
namespace {

using plan::FlagCode;
using trace::Notice;
using trace::Quantity;

/// The samples of one run, and what they are in volts.
struct CutRun {
    trace::Samples drive, specimen, electrode, marker;  ///< as recorded
    std::vector<double> specimen_V, electrode_V;
    decay::RunTrace trace;  ///< over these
    double first_s = 0, last_s = 0;
};

}  // namespace

class Measuring::State {
  public:
    State(const recording::Description& about, bool cut_before, const MeasureRequest& request,
          const RunSeen& seen, const RunKept& keep)
        : about_(about),
          request_(request),
          seen_(seen),
          keep_(keep),
          laws_(request.laws),
          cut_before_(cut_before) {
        if (laws_ && request.bench && !laws_->modes) laws_->modes = decay::modes_of(*request.bench);
        const auto& channels = about.channels;
        for (std::size_t i = 0; i < channels.size(); ++i) {
            if (channels[i].quantity == Quantity::specimen_voltage && !specimen_) specimen_ = i;
            if (channels[i].quantity == Quantity::electrode_voltage && !electrode_) electrode_ = i;
            if (channels[i].quantity == Quantity::release_marker && !marker_) marker_ = i;
        }
        // A field electrode stays up while the specimen's voltage falls: it ends no run.
        follows_electrode_ = electrode_ && request.rules.clock == plan::DecayRules::Clock::release;
    }

    [[nodiscard]] bool has_specimen() const { return specimen_.has_value(); }

    Result<Done> take(const recording::Block& block) {
        if (auto beyond = beyond_reach(block)) return *beyond;
        if (block.starts_segment) {
            end_segment();
            kept_run_ = block.run;
        }
        take_samples(block);
        if (block.ends_segment) end_segment();
        if (not_kept_) return *not_kept_;
        return Done{};
    }

    Result<Done> end() {
        end_segment();
        if (not_kept_) return *not_kept_;
        return Done{};
    }

    MeasuredFile finish(recording::Source& source) {
        file_.recording.file = about_.file;
        file_.recording.sha256 = source.sha256();
        file_.recording.bytes = source.bytes();
        file_.recording.format = about_.format;
        file_.recording.dialect = about_.dialect;
        file_.recording.channels = about_.channels;
        file_.kept_runs = source.kept_runs();
        // These may have taken whole runs with them: they are said of the recording too.
        for (const Notice& notice : file_.recording.notices)
            if (notice.kind == Notice::Kind::damaged || notice.kind == Notice::Kind::torn_tail ||
                notice.kind == Notice::Kind::samples_lost)
                file_.flags.push_back(*flag_of(notice));
        if (runs_ == 0)
            file_.flags.emplace_back(FlagCode::no_decay,
                                     fmt::format("No fall from a charge in {} samples of '{}'.", samples_,
                                                 about_.channels[*specimen_].heading));
        return std::move(file_);
    }

    std::optional<RunInProgress> in_progress() const {
        if (cut_before_) return {};
        const auto run = cutter_.in_progress();
        if (!run) return {};
        const trace::Samples drive = drive_window().view();
        const std::uint64_t first = drive_window().first();
        if (run->span.charge_start < first || run->span.charge_start - first >= drive.size()) return {};
        return RunInProgress{drive.time_s[static_cast<std::size_t>(run->span.charge_start - first)],
                             run->at_rest};
    }

    std::optional<decay::Figures> figures_so_far() const {
        const auto run = cutter_.in_progress();
        if (cut_before_ || !run) return {};
        const auto cut = cut_of(run->span);
        if (!cut) return {};
        return decay::figures_of(cut->trace, request_.rules, request_.bench, place().reference);
    }

    void forget_runs() { file_.runs.clear(); }

  private:
    std::optional<Error> beyond_reach(const recording::Block& block) const {
        for (const auto& index : {specimen_, electrode_, marker_}) {
            if (!index) continue;
            const plan::VoltageScale* scale = index == marker_ || !request_.bench ? nullptr
                                              : index == specimen_ ? &request_.bench->sensor.scale
                                                                   : &request_.bench->electrode;
            if (auto no_voltage = no_voltage_in(block.channels[*index], scale))
                return Error{Fault::bad_input,
                             fmt::format("'{}' {}", about_.channels[*index].heading, *no_voltage),
                             about_.file,
                             "Check the units of the columns and the gain of the bench file, or name another "
                             "column"};
        }
        return {};
    }

    void take_samples(const recording::Block& block) {
        for (const Notice& notice : block.notices) note(notice);
        const recording::ChannelBlock& specimen = block.channels[*specimen_];
        samples_ += specimen.value.size();
        specimen_window_.append(specimen.time_s, specimen.value);
        if (marker_) marker_window_.append(block.channels[*marker_].time_s, block.channels[*marker_].value);
        if (cut_before_) {
            // Each segment is a run that was cut when it was kept, and short enough to have been held then.
            if (electrode_) {
                const recording::ChannelBlock& electrode = block.channels[*electrode_];
                electrode_window_.append(electrode.time_s, electrode.value);
            }
            return;
        }
        std::vector<trace::RunSpan> found;
        const plan::VoltageScale gain = request_.bench ? request_.bench->sensor.scale : plan::VoltageScale{};
        std::vector<double> specimen_V(specimen.value.size());
        std::ranges::transform(specimen.value, specimen_V.begin(), [&](double v) { return gain.volts(v); });
        if (electrode_)
            electrode_window_.append(block.channels[*electrode_].time_s, block.channels[*electrode_].value);
        if (follows_electrode_) {
            const recording::ChannelBlock& electrode = block.channels[*electrode_];
            const plan::VoltageScale scale =
                request_.bench ? request_.bench->electrode : plan::VoltageScale{};
            std::vector<double> electrode_V(electrode.value.size()), beside_V(electrode.value.size());
            beside_.time_s.insert(beside_.time_s.end(), specimen.time_s.begin(), specimen.time_s.end());
            beside_.value.insert(beside_.value.end(), specimen_V.begin(), specimen_V.end());
            std::size_t at = 0;
            for (std::size_t i = 0; i < electrode_V.size(); ++i) {
                electrode_V[i] = scale.volts(electrode.value[i]);
                while (at < beside_.time_s.size() && beside_.time_s[at] <= electrode.time_s[i])
                    last_specimen_V_ = beside_.value[at++];
                beside_V[i] = last_specimen_V_;
            }
            // Later ones wait for their electrode samples: cuts must not depend on where blocks end.
            beside_.time_s.erase(beside_.time_s.begin(),
                                 beside_.time_s.begin() + static_cast<std::ptrdiff_t>(at));
            beside_.value.erase(beside_.value.begin(),
                                beside_.value.begin() + static_cast<std::ptrdiff_t>(at));
            cutter_.add(electrode_V, beside_V, found);
        } else {
            cutter_.add(specimen_V, found);
        }
        for (const trace::RunSpan& span : found) finish(span);
        forget();
    }

    void end_segment() {
        if (cut_before_) {
            finish_kept();
        } else {
            std::vector<trace::RunSpan> found;
            cutter_.finish(found);
            for (const trace::RunSpan& span : found) finish(span);
        }
        specimen_window_.clear();
        electrode_window_.clear();
        marker_window_.clear();
        notices_.clear();
        last_specimen_V_ = 0;
        beside_ = {};
    }

    /// A run that was cut before; one that lacks samples would give figures of its own, and is left out.
    void finish_kept() {
        const std::size_t samples = (follows_electrode_ ? electrode_window_ : specimen_window_).view().size();
        const auto run = std::exchange(kept_run_, {});
        if (samples == 0 && !run) return;
        if (!run || run->span.end != samples) {
            Notice notice;
            notice.kind = Notice::Kind::damaged;
            notice.text = fmt::format("a kept run is not whole ({} samples{}) and was left out", samples,
                                      run ? fmt::format(" of {}", run->span.end) : "");
            count_in(file_.recording.notices, notice);
            return;
        }
        trace::RunSpan span = run->span;
        // As they were cut, unless another gain is applied now.
        const plan::VoltageScale scale = drive_scale();
        const double base = scale.volts(run->base), top = scale.volts(run->top);
        const double tolerance = 1e-9 * (std::abs(base) + std::abs(top));
        if (std::abs(base - span.base) > tolerance ||
            std::abs(std::abs(top - base) - span.height) > tolerance) {
            span.base = base;
            span.height = std::abs(top - base);
            span.sign = top < base ? -1 : 1;
        }
        if (std::abs(span.base) <= largest_figure && span.height <= largest_figure) finish(span);
    }

    /// Of the channel that runs are cut by.
    plan::VoltageScale drive_scale() const {
        if (!request_.bench) return {};
        return follows_electrode_ ? request_.bench->electrode : request_.bench->sensor.scale;
    }

    void forget() {
        SampleWindow& drive = follows_electrode_ ? electrode_window_ : specimen_window_;
        drive.drop_before(cutter_.oldest_needed());
        if (drive.view().empty()) return;
        const double oldest_s = drive.view().time_s.front();
        if (follows_electrode_)
            specimen_window_.drop_before_time(oldest_s);
        else if (electrode_)
            electrode_window_.drop_before_time(oldest_s);
        if (marker_) marker_window_.drop_before_time(oldest_s);
        std::erase_if(notices_, [&](const Notice& notice) { return notice.time_s < oldest_s; });
    }

    void note(const Notice& notice) {
        count_in(file_.recording.notices, notice);
        notices_.push_back(notice);
    }

    const SampleWindow& drive_window() const {
        return follows_electrode_ ? electrode_window_ : specimen_window_;
    }

    /// Nothing where there are too few samples, or none that anything could be taken from.
    std::optional<CutRun> cut_of(const trace::RunSpan& span) const {
        std::optional<CutRun> out(std::in_place);
        out->drive = drive_window().slice(span.first, span.end);
        const trace::Samples& drive = out->drive;
        if (drive.size() < 3) return {};
        out->first_s = drive.time_s.front();
        out->last_s = std::nextafter(drive.time_s.back(), INFINITY);
        const auto recorded_of = [&](const SampleWindow& window) {
            return window.view().between(out->first_s, out->last_s);
        };
        out->specimen = follows_electrode_ ? recorded_of(specimen_window_) : drive;
        out->electrode = follows_electrode_ ? drive
                         : electrode_       ? recorded_of(electrode_window_)
                                            : trace::Samples{};
        out->marker = marker_ ? recorded_of(marker_window_) : trace::Samples{};
        if (out->specimen.size() < 3) return {};
        // So small that squares vanish: no charge, and no time that anything could take.
        if (!(span.height > smallest_figure && drive.time_s.back() - drive.time_s.front() > smallest_figure))
            return {};

        out->specimen_V = in_volts(out->specimen, request_.bench ? &request_.bench->sensor.scale : nullptr);
        out->electrode_V = in_volts(out->electrode, request_.bench ? &request_.bench->electrode : nullptr);
        decay::RunTrace& trace = out->trace;
        trace.specimen = {out->specimen.time_s, out->specimen_V};
        if (electrode_) trace.electrode = trace::Samples{out->electrode.time_s, out->electrode_V};
        if (marker_) trace.marker = out->marker;
        trace.starts_charged = span.starts_charged;
        trace.sign = span.sign;
        trace.base = span.base;
        trace.height = span.height;
        const auto time_at = [&](std::uint64_t index) {
            return drive.time_s[std::min<std::size_t>(static_cast<std::size_t>(index - span.first),
                                                      drive.size() - 1)];
        };
        trace.charge_start_s = time_at(span.charge_start);
        trace.last_high_s = time_at(span.last_high);
        trace.first_low_s = time_at(span.first_low);
        return out;
    }

    void finish(const trace::RunSpan& span) {
        const auto cut = cut_of(span);
        if (!cut) return;
        MeasuredRun run;
        Sha256 id;
        const auto add_channel = [&](std::string_view role, const trace::Samples& samples) {
            id.add(role);
            id.add(samples.time_s);
            id.add(samples.value);
        };
        add_channel("specimen", cut->specimen);
        if (electrode_) add_channel("electrode", cut->electrode);
        if (marker_) add_channel("marker", cut->marker);
        run.run_id = id.hex();
        run.figures = figures_of_run(cut->trace, place(), request_, laws_, run.run_id);
        run.flags = run.figures.flags;
        std::vector<Notice> own;
        for (const Notice& notice : notices_)
            if (auto flag = flag_of(notice);
                flag && notice.time_s >= cut->first_s && notice.time_s <= cut->last_s) {
                run.flags.push_back(std::move(*flag));
                own.push_back(notice);
            }
        if (keep_ && !not_kept_) keep(span, cut->specimen, cut->electrode, cut->marker, std::move(own));
        ++runs_;
        file_.recording.runs.push_back(run.run_id);
        file_.runs.push_back(std::move(run));
        if (seen_) seen_(file_.runs.back(), cut->trace);
    }

    /// Of the next run.
    RunPlace place() const { return runs_ < request_.places.size() ? request_.places[runs_] : RunPlace{}; }

    /// Hands on what the run's id and figures are made of, as recorded, as a segment of its own.
    void keep(const trace::RunSpan& span, const trace::Samples& specimen, const trace::Samples& electrode,
              const trace::Samples& marker, std::vector<Notice> notices) {
        recording::Block block;
        block.starts_segment = block.ends_segment = true;
        block.channels.resize(about_.channels.size());
        block.notices = std::move(notices);
        const auto fill = [&](std::size_t channel, const trace::Samples& samples) {
            block.channels[channel].time_s.assign(samples.time_s.begin(), samples.time_s.end());
            block.channels[channel].value.assign(samples.value.begin(), samples.value.end());
        };
        fill(*specimen_, specimen);
        if (electrode_) fill(*electrode_, electrode);
        if (marker_) fill(*marker_, marker);
        recording::KeptRun run;
        run.span = span;
        for (std::uint64_t* index : {&run.span.charge_start, &run.span.last_high, &run.span.first_low,
                                     &run.span.end, &run.span.first})
            *index -= std::min(span.first, *index);
        run.base = drive_scale().recorded(span.base);
        run.top = drive_scale().recorded(span.base + span.sign * span.height);
        block.run = run;
        const auto kept = keep_(block);
        if (!kept) not_kept_ = kept.error();
    }

    const recording::Description& about_;
    const MeasureRequest& request_;
    const RunSeen& seen_;
    const RunKept& keep_;
    std::optional<decay::LawQuestion> laws_;  ///< with the modes of the bench
    std::optional<Error> not_kept_;
    bool cut_before_ = false;                     ///< the source holds kept runs
    std::optional<recording::KeptRun> kept_run_;  ///< what the segment at hand is, when it was cut before
    std::optional<std::size_t> specimen_, electrode_, marker_;
    bool follows_electrode_ = false;  ///< runs are cut along the electrode voltage
    trace::RunCutter cutter_;
    SampleWindow specimen_window_, electrode_window_, marker_window_;
    std::vector<Notice> notices_;
    double last_specimen_V_ = 0;  ///< at the last electrode sample
    trace::SampleStore beside_;   ///< specimen samples after it
    std::uint64_t samples_ = 0;
    std::uint64_t runs_ = 0;
    MeasuredFile file_;
};

Measuring::Measuring(const recording::Source& source, MeasureRequest request, RunSeen seen, RunKept keep)
    : about_(source.description()),
      request_(std::move(request)),
      seen_(std::move(seen)),
      keep_(std::move(keep)),
      state_(std::make_unique<State>(about_, source.kept_runs().has_value(), request_, seen_, keep_)) {}

Measuring::~Measuring() = default;

std::optional<Error> Measuring::unfit() const {
    if (state_->has_specimen()) return {};
    return Error{Fault::bad_input, "no channel is the specimen voltage", about_.file,
                 "Name it with --specimen"};
}

Result<Done> Measuring::take(const recording::Block& block) {
    return state_->take(block);
}
Result<Done> Measuring::end() {
    return state_->end();
}
MeasuredFile Measuring::finish(recording::Source& source) {
    return state_->finish(source);
}
std::optional<RunInProgress> Measuring::in_progress() const {
    return state_->in_progress();
}
std::optional<decay::Figures> Measuring::figures_so_far() const {
    return state_->figures_so_far();
}
void Measuring::forget_runs() {
    state_->forget_runs();
}

}  // namespace ebbtide::work
