#include "work/heard_check.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <filesystem>

#include "ledger/durable_file.hpp"
#include "paperwork/paperwork.hpp"
#include "recording/container_layout.hpp"
#include "work/bench_standing.hpp"
#include "work/frames.hpp"
#include "work/measure_order.hpp"
#include "work/measuring.hpp"
#include "work/reference_check.hpp"
#include "work/run_container.hpp"
#include "work/run_progress.hpp"

namespace ebbtide::work {
namespace {

// Set by hand and read from a needle: common practice, no source.
constexpr double voltage_within = 0.1;

/// Why the run is none of this step; empty: it is.
std::string unfit_for(const bench::CheckStep& step, const MeasuredRun& run) {
    const decay::Figures& figures = run.figures;
    if (figures.polarity != step.polarity)
        return fmt::format("It was charged {}, and {} is asked for.", plan::sign_of(figures.polarity),
                           plan::sign_of(step.polarity));
    if (!figures.held_V || !figures.electrode_V)
        return "No voltage that was held is seen in it: charge, hold, then earth.";
    if (std::abs(std::abs(*figures.electrode_V) - step.aim.voltage_V) > voltage_within * step.aim.voltage_V)
        return fmt::format("The electrode had {:.0f} V, and {:.0f} V is asked for.", *figures.electrode_V,
                           std::copysign(step.aim.voltage_V, *figures.electrode_V));
    for (const plan::Flag& flag : run.flags)
        if (flag.consequence == plan::Consequence::void_run || flag.code == plan::FlagCode::zero_unproven)
            return fmt::format("{}: {}", plan::facts(flag.code).name, flag.message);
    return "";
}

class HeardCheck {
  public:
    HeardCheck(LiveSource& source, const HeardCheckRequest& request, const std::vector<LiveSink>& sinks)
        : source_(*source.samples),
          ceiling_(source.ceiling),
          request_(request),
          sinks_(sinks),
          steps_(bench::steps_of(*request.bench.check)),
          measuring_(
              source_, {usual_rules(), request.bench},
              [this](const MeasuredRun& run, const decay::RunTrace&) { recorded(run); },
              [this](const recording::Block& run) { return kept(run); }) {}

    Result<BenchCheckAnswer> run() {
        if (const auto unfit = unfit_source()) return *unfit;
        begin();
        std::string broken_off = hear();
        // Whatever ended it: a run that has fallen is one.
        if (!fault_ && !whole())
            if (const auto ended = measuring_.end(); !ended && !fault_) fault_ = ended.error();
        if (whole()) broken_off.clear();
        if (!fault_) {
            conclude_check(answer_, readings_, request_.bench, broken_off, instant(heard_to_s_));
            if (const auto written = keep_check_record(answer_, request_.bench_file, request_.order);
                !written)
                fault_ = written.error();
        }
        end(fault_ ? fault_->text() : broken_off);
        if (fault_) return *fault_;
        return std::move(answer_);
    }

  private:
    void tell(const LiveEvent& event) const {
        for (const LiveSink& sink : sinks_) sink(event);
    }
    [[nodiscard]] bool whole() const { return readings_.size() == steps_.size(); }
    [[nodiscard]] const bench::CheckStep& step() const { return steps_[readings_.size()]; }
    [[nodiscard]] Instant instant(double at_s) const {
        const auto& origin = source_.description().origin;
        return origin ? *origin + Span::from_seconds(at_s) : request_.now();
    }

    /// Without the electrode's voltage there is nothing to hold a reading against, and an empty fixture or a
    /// blank hardly shows that it was charged.
    [[nodiscard]] std::optional<Error> unfit_source() const {
        if (auto unfit = measuring_.unfit()) return unfit;
        const auto& channels = source_.description().channels;
        if (std::ranges::find(channels, trace::Quantity::electrode_voltage,
                              &trace::ChannelDescription::quantity) != channels.end())
            return {};
        return Error{Fault::bad_input, "no channel is the voltage of the electrode: a bench check needs it",
                     request_.source, "Record it too, or say which column it is: --electrode"};
    }

    void begin() {
        const recording::Description& about = source_.description();
        SessionBegun begun;
        begun.kind = SessionBegun::Kind::check;
        begun.bench = request_.bench.id;
        begun.bench_revision = request_.bench.revision;
        begun.who = request_.who;
        begun.closing = request_.closing;
        begun.heard = true;
        begun.open = steps_.size();
        tell(begun);
        tell(SourceOpened{request_.source, about.format, about.dialect, ceiling_, about.channels});
        answer_.bench = request_.bench.id;
        answer_.revision = request_.bench.revision;
        answer_.closing = request_.closing;
        answer_.who = request_.who;
        answer_.source = request_.source;
        answer_.began = instant(0);
        ask();
    }

    /// Until the check is whole. Why it is not, where the source ended before.
    std::string hear() {
        recording::Block block;
        while (!fault_ && !whole()) {
            const auto more = source_.next(block);
            if (!more) return more.error().text();
            if (!*more) break;
            // What was pressed while it waited, before a run is taken.
            go_back();
            for (const trace::Notice& notice : block.notices) tell(NoticeSeen{notice});
            if (const auto taken = measuring_.take(block); !taken && !fault_) return taken.error().text();
            measuring_.forget_runs();
            frames_.take(block, [&](const Frame& frame) {
                heard_to_s_ = frame.to_s;
                tell(frame);
            });
            if (!whole())
                progress_.follow(
                    measuring_, [this](const LiveEvent& event) { tell(event); }, label_of(step()));
        }
        return fmt::format("it was ended after {} of {} steps", readings_.size(), steps_.size());
    }

    void ask() {
        if (whole()) return;
        const bench::CheckStep& next = step();
        asked_ = {Question::Kind::mount,
                  fmt::format("Step {} of {}. {}Charge to {}{:.0f} V, hold it for {:g} s, earth the clamps.",
                              readings_.size() + 1, steps_.size(),
                              next.mount ? std::string(bench::words_of(next.mounted)) + " " : "",
                              plan::sign_of(next.polarity), next.aim.voltage_V, next.aim.hold_s)};
        asked_.mounted = next.mounted;
        asked_.number = ++questions_;
        tell(QuestionAsked{asked_, heard_to_s_});
    }

    /// Comes before recorded() of the same run.
    Result<Done> kept(const recording::Block& run) {
        auto container = run_container(source_.description(), run);
        if (!container) return container.error();
        container_ = std::move(container).value();
        return Done{};
    }

    void recorded(const MeasuredRun& cut) {
        if (fault_ || whole()) return;
        const bench::CheckStep& next = step();
        auto run = measured_from(container_, options_for({}, request_.bench),
                                 reference_request(next.mounted, request_.bench));
        if (!run) {
            fault_ = run.error();
            return;
        }
        const bench::CheckReading reading = reading_of(*run, next, *request_.bench.check);
        heard_to_s_ = std::max(heard_to_s_, cut.figures.release_s + cut.figures.record_s);
        RunReadings shown;
        shown.zero_V = reading.zero_V;
        shown.held_V = run->figures.held_V;
        shown.accepted = shown.level_reached = true;
        const std::string words = unfit_for(next, *run), file = write();
        if (fault_) return;
        answer_.steps.push_back({next, file, words});
        if (words.empty()) {
            readings_.push_back(reading);
            end_.recorded = readings_.size();
            tell(StepRecorded{{}, label_of(next), file, shown, heard_to_s_});
            tell(QuestionAnswered{asked_, Answer::done, request_.who, heard_to_s_});
        } else {
            ++end_.aborted;
            tell(RunAborted{{}, label_of(next), file, words, shown, false, heard_to_s_});
        }
        ask();
    }

    /// The run at hand beside the record; its name there.
    std::string write() {
        const std::string folder = folder_of_bench(request_.bench_file) + "/" + checks_folder;
        std::error_code none;
        std::filesystem::create_directories(folder, none);
        const std::string name = fmt::format("{}-{}{}", check_stem(answer_), answer_.steps.size() + 1,
                                             recording::container::file_ending);
        const std::string path = folder + "/" + name;
        auto written = ledger::write_new_file(path + ".part", container_.bytes);
        if (written) written = ledger::give_name(path + ".part", path);
        if (!written) fault_ = written.error();
        return name;
    }

    void go_back() {
        if (!request_.steps_back || whole()) return;
        const std::size_t steps = std::min(request_.steps_back(), readings_.size());
        if (steps == 0) return;
        readings_.resize(readings_.size() - steps);
        tell(QuestionAnswered{asked_, Answer::skip, request_.who, heard_to_s_});
        ask();
    }

    void end(const std::string& words) {
        if (!fault_)
            tell(BenchChecked{answer_.closing, answer_.good, answer_.reason, answer_.figures,
                              answer_.good_until, answer_.file, heard_to_s_});
        end_.kind = SessionBegun::Kind::check;
        end_.words = words;
        end_.done = words.empty();
        end_.open = steps_.size() - readings_.size();
        end_.bench_s = heard_to_s_;
        tell(end_);
    }

    recording::Source& source_;
    const std::string& ceiling_;
    const HeardCheckRequest& request_;
    const std::vector<LiveSink>& sinks_;
    std::vector<bench::CheckStep> steps_;
    BenchCheckAnswer answer_;
    SessionEnded end_;
    std::vector<bench::CheckReading> readings_;  // of the steps that are done
    Question asked_;
    std::uint64_t questions_ = 0;
    Measuring measuring_;
    Frames frames_;
    RunProgress progress_;
    RunContainer container_;  // of the run at hand
    double heard_to_s_ = 0;
    std::optional<Error> fault_;
};

}  // namespace

Result<BenchCheckAnswer> hear_check(LiveSource& source, const HeardCheckRequest& request,
                                    const std::vector<LiveSink>& sinks) {
    return HeardCheck(source, request, sinks).run();
}

Result<plan::Bench> bench_to_hear(const std::string& bench_file) {
    const auto text = read_whole(bench_file, std::uint64_t{1} << 20);
    if (!text) return text.error();
    auto bench = paperwork::parse_bench(*text, bench_file);
    if (!bench) return bench.error();
    if (!bench->check)
        return Error{Fault::bad_input,
                     "the bench file has no table [check]: what a check must show is not known", bench_file,
                     "docs/formats/bench.md explains the table"};
    return bench;
}

}  // namespace ebbtide::work
