#include "work/measuring.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <utility>

#include "basis/sha256.hpp"
#include "trace/cutter.hpp"
#include "work/bench_volts.hpp"
#include "work/held_samples.hpp"
#include "work/notices.hpp"
#include "work/run_figures.hpp"

namespace ebbtide::work {
namespace {

using plan::FlagCode;
using trace::Notice;

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
          cut_before_(cut_before),
          // A field electrode stays up while the specimen's voltage falls: it ends no run.
          held_(about.channels, request.rules.clock == plan::DecayRules::Clock::release, request.bench) {
        if (laws_ && request.bench && !laws_->modes) laws_->modes = decay::modes_of(*request.bench);
    }

    [[nodiscard]] bool has_specimen() const { return held_.channels().specimen.has_value(); }

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
                                                 about_.channels[*held_.channels().specimen].heading));
        return std::move(file_);
    }

    std::optional<RunInProgress> in_progress() const {
        if (cut_before_) return {};
        const auto run = cutter_.in_progress();
        if (!run) return {};
        const trace::Samples drive = held_.drive().view();
        const std::uint64_t first = held_.drive().first();
        if (run->span.charge_start < first || run->span.charge_start - first >= drive.size()) return {};
        return RunInProgress{drive.time_s[static_cast<std::size_t>(run->span.charge_start - first)],
                             run->at_rest};
    }

    std::optional<decay::Figures> figures_so_far() const {
        const auto run = cutter_.in_progress();
        if (cut_before_ || !run) return {};
        const auto cut = held_.cut_of(run->span);
        if (!cut) return {};
        return decay::figures_of(cut->trace, request_.rules, request_.bench, place().reference);
    }

    void forget_runs() { file_.runs.clear(); }

  private:
    std::optional<Error> beyond_reach(const recording::Block& block) const {
        const HeldSamples::Channels& channels = held_.channels();
        for (const auto& index : {channels.specimen, channels.electrode, channels.marker}) {
            if (!index) continue;
            const plan::VoltageScale* scale = index == channels.marker || !request_.bench ? nullptr
                                              : index == channels.specimen ? &request_.bench->sensor.scale
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
        const recording::ChannelBlock& specimen = block.channels[*held_.channels().specimen];
        samples_ += specimen.value.size();
        held_.append(block);
        // Each segment is a run that was cut when it was kept, and short enough to have been held then.
        if (cut_before_) return;
        std::vector<trace::RunSpan> found;
        const plan::VoltageScale gain = request_.bench ? request_.bench->sensor.scale : plan::VoltageScale{};
        std::vector<double> specimen_V(specimen.value.size());
        std::ranges::transform(specimen.value, specimen_V.begin(), [&](double v) { return gain.volts(v); });
        if (held_.follows_electrode()) {
            const recording::ChannelBlock& electrode = block.channels[*held_.channels().electrode];
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
        held_.clear();
        notices_.clear();
        last_specimen_V_ = 0;
        beside_ = {};
    }

    /// A run that was cut before; one that lacks samples would give figures of its own, and is left out.
    void finish_kept() {
        const std::size_t samples = held_.drive().view().size();
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
        const plan::VoltageScale scale = held_.drive_scale();
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

    void forget() {
        const auto oldest_s = held_.drop_before(cutter_.oldest_needed());
        if (oldest_s)
            std::erase_if(notices_, [&](const Notice& notice) { return notice.time_s < *oldest_s; });
    }

    void note(const Notice& notice) {
        count_in(file_.recording.notices, notice);
        notices_.push_back(notice);
    }

    void finish(const trace::RunSpan& span) {
        const auto cut = held_.cut_of(span);
        if (!cut) return;
        MeasuredRun run;
        Sha256 id;
        const auto add_channel = [&](std::string_view role, const trace::Samples& samples) {
            id.add(role);
            id.add(samples.time_s);
            id.add(samples.value);
        };
        add_channel("specimen", cut->specimen);
        if (held_.channels().electrode) add_channel("electrode", cut->electrode);
        if (held_.channels().marker) add_channel("marker", cut->marker);
        run.run_id = id.hex();
        if (!request_.only || *request_.only == run.run_id)
            run.figures = figures_of_run(cut->trace, place(), request_, laws_, run.run_id);
        run.flags = run.figures.flags;
        std::vector<Notice> own;
        for (const Notice& notice : notices_)
            if (auto flag = flag_of(notice);
                flag && notice.time_s >= cut->first_s && notice.time_s <= cut->last_s) {
                run.flags.push_back(std::move(*flag));
                own.push_back(notice);
            }
        if (keep_ && !not_kept_) keep(span, *cut, std::move(own));
        ++runs_;
        file_.recording.runs.push_back(run.run_id);
        file_.runs.push_back(std::move(run));
        if (seen_) seen_(file_.runs.back(), cut->trace);
    }

    /// Of the next run.
    RunPlace place() const { return runs_ < request_.places.size() ? request_.places[runs_] : RunPlace{}; }

    /// Hands on what the run's id and figures are made of, as recorded, as a segment of its own.
    void keep(const trace::RunSpan& span, const CutRun& cut, std::vector<Notice> notices) {
        recording::Block block;
        block.starts_segment = block.ends_segment = true;
        block.channels.resize(about_.channels.size());
        block.notices = std::move(notices);
        const auto fill = [&](const std::optional<std::size_t>& channel, const trace::Samples& samples) {
            if (!channel) return;
            block.channels[*channel].time_s.assign(samples.time_s.begin(), samples.time_s.end());
            block.channels[*channel].value.assign(samples.value.begin(), samples.value.end());
        };
        fill(held_.channels().specimen, cut.specimen);
        fill(held_.channels().electrode, cut.electrode);
        fill(held_.channels().marker, cut.marker);
        recording::KeptRun run;
        run.span = span;
        for (std::uint64_t* index : {&run.span.charge_start, &run.span.last_high, &run.span.first_low,
                                     &run.span.end, &run.span.first})
            *index -= std::min(span.first, *index);
        run.base = held_.drive_scale().recorded(span.base);
        run.top = held_.drive_scale().recorded(span.base + span.sign * span.height);
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
    HeldSamples held_;
    trace::RunCutter cutter_;
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
