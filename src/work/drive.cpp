#include "work/drive.hpp"

#include <fmt/format.h>

#include <filesystem>

#include "work/before_live.hpp"
#include "work/bench_standing.hpp"
#include "work/drive_log.hpp"
#include "work/live_teller.hpp"

namespace ebbtide::work {
namespace {

std::string mount_words(const OpenPlace& place) {
    return fmt::format(
        "Mount {}{}{}{}. Earth it, neutralise it, close the door.", place.key.specimen,
        place.key.face.empty() ? "" : ", ", place.key.face,
        place.key.conditions.empty() ? "" : fmt::format(", conditions {}", place.key.conditions));
}

/// The log is told first: each line leaves the program before the next thing happens.
std::vector<LiveSink> log_first(const std::vector<LiveSink>& sinks, DriveLog& log, Instant began) {
    std::vector<LiveSink> all{[&log, began](const LiveEvent& event) {
        if (const auto line = drive_line(event, began)) log.add(*line);
    }};
    all.insert(all.end(), sinks.begin(), sinks.end());
    return all;
}

/// One session at the bench: from making it safe to the end of the plan, or of patience.
class Session {
  public:
    Session(bench::Bench& bench, const DriveRequest& request, const Person& person,
            const std::vector<LiveSink>& sinks, const record::OrderRecord& documents, plan::Bench about,
            std::unique_ptr<LiveOrder> live, std::vector<PlanPlace> plan)
        : request_(request),
          person_(person),
          documents_(documents),
          about_(std::move(about)),
          live_(std::move(live)),
          plan_(std::move(plan)),
          sinks_(log_first(sinks, log_, request.began)),
          teller_(sinks_, about_),
          runs_(request.order, request.who, request.began, documents, about_, live_.get()),
          guarded_(
              bench, *about_.drive, scales_of(about_),
              {[this](const bench::Happening& one) { teller_.happening(one); },
               [this] { return must_stop(); }, [this](const bench::Observation& seen) { teller_.look(seen); },
               [this](const bench::Observation& seen, const bench::RunState&) { runs_.keep(seen); }}) {}

    Result<DriveAnswer> run(const std::vector<OpenPlace>& places) {
        answer_.order = documents_.order.id;
        answer_.open_before = answer_.open_after = places.size();
        if (!request_.dry_run) {
            auto log = DriveLog::open(request_.order + "/" + drive_log_name);
            if (!log) return log.error();
            log_ = std::move(log).value();
        }
        SessionBegun begun;
        begun.order = documents_.order.id;
        begun.revision = documents_.order.revision;
        begun.bench = about_.id;
        begun.bench_revision = about_.revision;
        begun.who = request_.who;
        begun.sequence = name_of(request_.sequence);
        begun.seed = request_.seed;
        begun.open = places.size();
        begun.dry_run = request_.dry_run;
        teller_.tell(begun);
        teller_.opened();
        tell_plan(places.empty() ? std::nullopt : std::optional(places.front().place));
        for (const std::string& file : runs_.keep_leftovers()) {
            teller_.tell(
                Prompt{fmt::format("A run was broken off; what there is of it is kept as {}.", file)});
            teller_.tell(RunBrokenOff{file, guarded_.now_s()});
        }
        auto wrong = work(places);
        if (!wrong) wrong = log_.fault();
        if (!wrong && answer_.ended.empty() && answer_.open_after > 0)
            answer_.ended = "Places were left open.";
        tell_end(wrong);
        log_.sync();
        if (wrong) return *wrong;
        return std::move(answer_);
    }

  private:
    /// Why it ended before the plan was done stands in the answer. Error: see drive().
    std::optional<Error> work(const std::vector<OpenPlace>& places) {
        // Before anything else, before any question: what may still be live from before.
        if (!made_safe(true) || places.empty()) return {};
        const StartRequest start{request_.order, checks_place(), request_.who, request_.override_,
                                 request_.dry_run};
        const auto overridden = start_on_check(start, about_, now());
        if (!overridden) return overridden.error();
        if (*overridden) {
            teller_.tell(Prompt{fmt::format("Work starts although {}. {}: {}.", **overridden, request_.who,
                                            request_.override_)});
            teller_.tell(CheckOverridden{request_.who, request_.override_, **overridden, guarded_.now_s()});
        }
        const auto asked = [this](const Question& question) { return ask(question); };
        if (!confirm_setup(start, about_, asked, [this] { return now(); })) {
            answer_.ended = "The set-up was not confirmed.";
            return {};
        }
        teller_.tell(Prompt{fmt::format("{} {} to record, sequence {}.", places.size(),
                                        places.size() == 1 ? "run" : "runs", name_of(request_.sequence))});
        for (std::size_t i = 0; i < places.size() && answer_.ended.empty(); ++i) {
            if (must_stop()) return stopped();
            if (i > 0) tell_plan(places[i].place);
            if (const auto wrong = drive_place(places[i])) return wrong;
        }
        return {};
    }

    /// False: the session ends here.
    bool made_safe(bool first) {
        const bench::Found found = guarded_.make_safe();
        if (first) {
            answer_.found_on = found.output_was_on;
            if (found.answers && !found.output_was_on)
                teller_.tell(BenchFound{false, "The source was found off.", guarded_.now_s()});
        }
        answer_.may_be_live = found.may_be_live;
        if (!found.at_rest) answer_.ended = "The bench could not be shown to be at rest.";
        return found.at_rest;
    }

    /// One place of the plan, as often as the person wants to try. Error: it cannot be written.
    std::optional<Error> drive_place(OpenPlace place) {
        bool mount = place.mount || skipped_mounting_;
        skipped_mounting_ = false;
        for (;;) {
            const Answer ready = mount ? mounted(place) : rested();
            if (!answer_.ended.empty()) return {};
            if (ready == Answer::stop) return stopped();
            if (ready == Answer::skip) return skipped();
            place.aim.neutralised_s = neutralised_s_;
            auto driven = one_run(place);
            if (!driven) return driven.error();
            if (log_.fault()) return log_.fault();
            DrivenRun run = std::move(driven).value();
            ++unattended_;
            const bool fills = run.kept && run.kept->counts, recorded = run.recorded;
            if (fills) --answer_.open_after;
            const std::string words = run.words;
            answer_.runs.push_back(std::move(run));
            if (fills || (recorded && request_.dry_run)) return {};
            if (person_stopped_) return stopped();
            if (!link_) {
                answer_.ended = words;
                return {};
            }
            const Answer answer = ask({Question::Kind::look, words + " Try this run again?", place.key});
            if (answer == Answer::stop) return stopped();
            if (!recorded && !made_safe(false)) return {};
            // Whoever looked may have touched the specimen: it is mounted and neutralised anew.
            if (answer == Answer::skip) return skipped();
            mount = true;
        }
    }

    Answer mounted(const OpenPlace& place) {
        const Answer answer = ask({Question::Kind::mount, mount_words(place), place.key});
        if (answer != Answer::done) return answer;
        // The bench's clock may have run on while the person was busy.
        static_cast<void>(guarded_.rest(about_.drive->look_s));
        neutralised_s_ = guarded_.now_s();
        unattended_ = 0;
        return answer;
    }

    /// Between two runs of one mounting.
    Answer rested() {
        if (!guarded_.rest(about_.drive->rest_s)) {
            answer_.ended = person_stopped_ ? "Stopped by a person."
                                            : fmt::format("The bench went wrong between two runs: {}.",
                                                          bench::words_of(guarded_.state().ended_by));
            return Answer::stop;
        }
        const bool pause = person_.pause && person_.pause();
        if (!pause && unattended_ < about_.drive->unattended_replicates) return Answer::done;
        const std::string words =
            pause ? std::string("Paused: output off, clamps earthed.")
                  : fmt::format("{} runs went without a person. Look at the bench.", unattended_);
        unattended_ = 0;
        return ask({Question::Kind::leave, words}) == Answer::done ? Answer::done : Answer::stop;
    }

    std::optional<Error> stopped() {
        answer_.ended = "Stopped by a person.";
        return {};
    }
    std::optional<Error> skipped() {
        skipped_mounting_ = true;
        return {};
    }

    Result<DrivenRun> one_run(const OpenPlace& place) {
        teller_.tell(RunBegun{{}, place.key, "", guarded_.now_s()});
        if (const auto begun = runs_.begin(place); !begun) return begun.error();
        const bench::Driven driven = guarded_.run(place.aim);
        link_ = driven.recorded || driven.ended_by != bench::Event::link_lost;
        answer_.may_be_live = driven.may_be_live;
        auto run = runs_.end(place, driven, now());
        if (!run) return run;
        const double bench_s = guarded_.now_s();
        if (run->kept) {
            run->kept->bench_s = bench_s;
            teller_.tell(*run->kept);
            tell_plan(live_->next_place());
        } else if (run->recorded && request_.dry_run) {
            teller_.tell(StepRecorded{place.key, "", "", run->readings, bench_s});
        } else {
            teller_.tell(
                RunAborted{place.key, "", run->file, run->words, run->readings, run->recorded, bench_s});
        }
        log_.sync();
        return run;
    }

    Answer ask(const Question& question) {
        return teller_.ask(person_, question, request_.who, guarded_.now_s());
    }

    void tell_plan(std::optional<std::size_t> next) {
        teller_.tell(PlanChanged{live_ ? live_->places() : plan_, next, {}});
    }

    void tell_end(const std::optional<Error>& wrong) {
        SessionEnded end;
        end.order = answer_.order;
        end.words = wrong ? wrong->text() : answer_.ended;
        end.done = end.words.empty();
        for (const DrivenRun& run : answer_.runs) ++(run.recorded ? end.recorded : end.aborted);
        end.open = answer_.open_after;
        end.found_on = answer_.found_on;
        end.may_be_live = answer_.may_be_live;
        end.bench_s = guarded_.now_s();
        teller_.tell(end);
    }

    /// A disk that takes no more samples, or no more of the log, ends the run: nothing goes on unrecorded.
    bool must_stop() {
        if (person_.stop && person_.stop()) person_stopped_ = true;
        return person_stopped_ || runs_.fault() || log_.fault();
    }

    [[nodiscard]] Instant now() const { return request_.began + Span::from_seconds(guarded_.now_s()); }
    [[nodiscard]] std::string checks_place() const {
        return folder_of_bench(request_.bench_file.empty()
                                   ? request_.order + "/" + documents_.order.bench_file
                                   : request_.bench_file);
    }

    const DriveRequest& request_;
    const Person& person_;
    const record::OrderRecord& documents_;
    plan::Bench about_;
    std::unique_ptr<LiveOrder> live_;  ///< none in a dry run
    std::vector<PlanPlace> plan_;      ///< of a dry run
    DriveLog log_;
    std::vector<LiveSink> sinks_;
    LiveTeller teller_;
    DrivenRuns runs_;
    DriveAnswer answer_;
    bool person_stopped_ = false, link_ = true, skipped_mounting_ = false;
    std::optional<double> neutralised_s_;
    int unattended_ = 0;
    bench::GuardedBench guarded_;  ///< last: it tells of its own end
};

}  // namespace

Result<DriveAnswer> drive(bench::Bench& bench, const DriveRequest& request, const Person& person,
                          const std::vector<LiveSink>& sinks) {
    // Without the documents nothing is known but this.
    const auto refuse = [&](const Error& error) {
        static_cast<void>(bench.send({bench::Action::output_off, 0}));
        static_cast<void>(bench.send({bench::Action::earth_clamps, 0}));
        return error;
    };
    if (!person.ask)
        return refuse({Fault::bad_input, "nobody can be asked to mount a specimen", request.order,
                       "Drive from a terminal, or with a simulated bench"});
    const auto read = documents_to_drive(request.order);
    if (!read) return refuse(read.error());
    const record::OrderRecord& documents = *read;
    auto about = bench_to_drive(request.bench_file, documents.bench);
    if (!about) return refuse(about.error());
    std::unique_ptr<LiveOrder> live;
    std::vector<PlanPlace> plan;
    std::error_code none;
    if (!request.dry_run || std::filesystem::exists(request.order + "/" + documents.order.live_file, none)) {
        auto opened = LiveOrder::open({request.order, request.conditions, request.ledger, request.began});
        if (!opened) return refuse(opened.error());
        plan = (*opened)->places();
        if (!request.dry_run) live = std::move(opened).value();
    } else {
        // A dry run writes nothing: of an order that was never worked on live every place is open.
        const std::string conditions = !request.conditions.empty() || documents.order.conditions.empty()
                                           ? request.conditions
                                           : documents.order.conditions.front().id;
        plan = places_of_plan(documents.order, documents.method, conditions);
    }
    auto places = open_places(plan, documents.method, *about, request.sequence, request.seed);
    if (!places) return refuse(places.error());
    Session session(bench, request, person, sinks, documents, std::move(about).value(), std::move(live),
                    std::move(plan));
    return session.run(*places);
}

}  // namespace ebbtide::work
