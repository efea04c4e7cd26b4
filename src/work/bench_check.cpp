#include "work/bench_check.hpp"

#include <fmt/format.h>

#include "recording/source.hpp"
#include "work/bench_standing.hpp"
#include "work/documents_to_drive.hpp"
#include "work/driven_run.hpp"
#include "work/live_teller.hpp"
#include "work/measure.hpp"
#include "work/run_recording.hpp"

namespace ebbtide::work {
namespace {

/// One pass through the steps.
class DrivenCheck {
  public:
    DrivenCheck(bench::Bench& bench, const BenchCheckRequest& request, const Person& person,
                const std::vector<LiveSink>& sinks, plan::Bench about)
        : request_(request),
          person_(person),
          about_(std::move(about)),
          teller_(sinks, about_),
          guarded_(bench, *about_.drive, scales_of(about_),
                   {[this](const bench::Happening& one) { teller_.happening(one); },
                    [this] { return fault_ || (person_.stop && person_.stop()); },
                    [this](const bench::Observation& seen) { teller_.look(seen); },
                    [this](const bench::Observation& seen, const bench::RunState&) {
                        if (!recording_ || fault_) return;
                        if (const auto added = recording_->add(seen); !added) fault_ = added.error();
                    }}) {}

    Result<BenchCheckAnswer> run() {
        const std::vector<bench::CheckStep> steps = bench::steps_of(*about_.check);
        tell_begin(steps.size());
        const bench::Found found = guarded_.make_safe();
        if (found.answers && !found.output_was_on)
            teller_.tell(BenchFound{false, "The source was found off.", guarded_.now_s()});
        end_.found_on = found.output_was_on;
        answer_.bench = about_.id;
        answer_.revision = about_.revision;
        answer_.closing = request_.closing;
        answer_.who = request_.who;
        answer_.began = now();
        stem_ = check_stem(answer_);
        std::string broken_off;
        if (!found.at_rest) {
            broken_off = "the bench could not be shown to be at rest";
            answer_.may_be_live = found.may_be_live;
        }
        for (std::size_t i = 0; i < steps.size() && broken_off.empty() && !fault_; ++i)
            if (!one_step(steps[i])) broken_off = "a person broke it off";
        if (!fault_) conclude_check(answer_, readings_, about_, broken_off, now());
        if (!fault_ && !request_.dry_run)
            if (const auto kept = keep_check_record(answer_, request_.bench_file, request_.order); !kept)
                fault_ = kept.error();
        end_.open = steps.size() - end_.recorded;
        tell_end(fault_ ? fault_->text() : broken_off);
        if (fault_) return *fault_;
        return std::move(answer_);
    }

  private:
    void tell_begin(std::size_t steps) {
        SessionBegun begun;
        begun.kind = SessionBegun::Kind::check;
        begun.bench = about_.id;
        begun.bench_revision = about_.revision;
        begun.who = request_.who;
        begun.closing = request_.closing;
        begun.open = steps;
        begun.dry_run = request_.dry_run;
        teller_.tell(begun);
        teller_.opened();
    }

    void tell_end(const std::string& words) {
        const double bench_s = guarded_.now_s();
        if (!fault_)
            teller_.tell(BenchChecked{answer_.closing, answer_.good, answer_.reason, answer_.figures,
                                      answer_.good_until, answer_.file, bench_s});
        end_.kind = SessionBegun::Kind::check;
        end_.words = words;
        end_.done = words.empty();
        end_.may_be_live = answer_.may_be_live;
        end_.bench_s = bench_s;
        teller_.tell(end_);
    }

    /// False when the person wants no more of it, or files cannot be written.
    bool one_step(const bench::CheckStep& step) {
        bool mount = step.mount;
        for (;;) {
            if (!ready(step, mount)) return false;
            bench::RunAim aim = step.aim;
            if (mount) aim.neutralised_s = guarded_.now_s();
            const std::string file =
                fmt::format("{}-{}.ebbrec", stem_, answer_.steps.size() + 1);  // beside the record
            teller_.tell(RunBegun{{}, {}, label_of(step), guarded_.now_s()});
            const bench::Driven driven = record(step, aim, file);
            if (fault_) return false;
            if (driven.recorded) {
                take(step, driven, file);
                return true;
            }
            answer_.may_be_live = driven.may_be_live;
            if (driven.ended_by == bench::Event::link_lost || (person_.stop && person_.stop())) return false;
            if (ask({Question::Kind::look, driven.words() + " Try this step again?"}) != Answer::done ||
                !guarded_.make_safe().at_rest)
                return false;
            answer_.may_be_live.clear();
            mount = true;
        }
    }

    /// What the step needs hangs in the clamps.
    bool ready(const bench::CheckStep& step, bool mount) {
        if (!mount) return guarded_.rest(about_.drive->rest_s);
        Question question{Question::Kind::mount, std::string(bench::words_of(step.mounted))};
        question.mounted = step.mounted;
        if (ask(question) != Answer::done) return false;
        static_cast<void>(guarded_.rest(about_.drive->look_s));
        return true;
    }

    /// One guarded run, its recording, and what is told of it. Files that cannot be written are the fault.
    bench::Driven record(const bench::CheckStep& step, const bench::RunAim& aim, const std::string& file) {
        if (!request_.dry_run) {
            auto recording = RunRecording::create(place() + "/" + file, about_, request_.began,
                                                  {{"bench check", stem_}, {"step", label_of(step)}});
            if (!recording) {
                fault_ = recording.error();
                return {};
            }
            recording_ = std::make_unique<RunRecording>(std::move(recording).value());
        }
        bench::Driven driven = guarded_.run(aim);
        BenchCheckStep tried{step, "", driven.words()};
        if (recording_) {
            const auto recording = std::move(recording_);
            if (!fault_)
                if (const auto finished =
                        recording->finish({{"ended", driven.recorded ? "recorded" : tried.words}});
                    !finished)
                    fault_ = finished.error();
            tried.file = file;
        }
        const double bench_s = guarded_.now_s();
        if (driven.recorded) {
            ++end_.recorded;
            teller_.tell(StepRecorded{{}, label_of(step), tried.file, readings_of(driven), bench_s});
        } else {
            ++end_.aborted;
            teller_.tell(
                RunAborted{{}, label_of(step), tried.file, tried.words, readings_of(driven), false, bench_s});
        }
        answer_.steps.push_back(std::move(tried));
        return driven;
    }

    Answer ask(const Question& question) {
        return teller_.ask(person_, question, request_.who, guarded_.now_s());
    }

    void take(const bench::CheckStep& step, const bench::Driven& driven, const std::string& file) {
        bench::CheckReading reading{step,
                                    driven.state.zero.mean().value_or(0),
                                    driven.state.held_V,
                                    driven.state.held_electrode_V,
                                    {}};
        if (step.mounted == bench::Mounted::standard && !request_.dry_run)
            reading.decay_s = decay_of(place() + "/" + file);
        readings_.push_back(std::move(reading));
    }

    /// To the level of the check standard, from the recording, as any decay time is taken.
    std::optional<double> decay_of(const std::string& file) const {
        recording::ReadOptions read;
        read.specimen = about_.channels.specimen;
        read.electrode = about_.channels.electrode;
        auto source = recording::open(file, read);
        if (!source) return {};
        plan::DecayRules rules = usual_rules();
        rules.levels = {about_.check->standard_level};
        const auto measured = measure(**source, {rules, about_});
        if (!measured || measured->runs.size() != 1) return {};
        const auto& levels = measured->runs.front().figures.levels;
        if (levels.empty() || levels.front().status != decay::LevelStatus::measured) return {};
        return levels.front().decay_s;
    }

    [[nodiscard]] Instant now() const { return request_.began + Span::from_seconds(guarded_.now_s()); }
    [[nodiscard]] std::string place() const {
        return folder_of_bench(request_.bench_file) + "/" + checks_folder;
    }

    const BenchCheckRequest& request_;
    const Person& person_;
    plan::Bench about_;
    LiveTeller teller_;
    BenchCheckAnswer answer_;
    SessionEnded end_;
    std::string stem_;
    std::vector<bench::CheckReading> readings_;
    std::unique_ptr<RunRecording> recording_;
    std::optional<Error> fault_;
    bench::GuardedBench guarded_;  ///< last: it tells of its own end
};

}  // namespace

Result<BenchCheckAnswer> check_bench(bench::Bench& bench, const BenchCheckRequest& request,
                                     const Person& person, const std::vector<LiveSink>& sinks) {
    const auto refuse = [&](const Error& error) {
        static_cast<void>(bench.send({bench::Action::output_off, 0}));
        static_cast<void>(bench.send({bench::Action::earth_clamps, 0}));
        return error;
    };
    if (!person.ask)
        return refuse({Fault::bad_input, "nobody can be asked to mount what is checked", request.bench_file,
                       "Check from a terminal, or with a simulated bench"});
    auto about = bench_to_drive(request.bench_file, {});
    if (!about) return refuse(about.error());
    if (!about->check)
        return refuse({Fault::bad_input,
                       "the bench file has no table [check]: what a check must show is not known",
                       request.bench_file, "docs/formats/bench.md explains the table"});
    if (about->check->hold_s > about->drive->longest_charge_s)
        return refuse({Fault::bad_input, "check.hold_s is longer than drive.longest_charge_s",
                       request.bench_file, "Shorten the one or raise the other"});
    DrivenCheck check(bench, request, person, sinks, std::move(about).value());
    return check.run();
}

}  // namespace ebbtide::work
