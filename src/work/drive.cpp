#include "work/drive.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <filesystem>

#include "basis/number_text.hpp"
#include "judge/bench_standing.hpp"
#include "paperwork/paperwork.hpp"
#include "record/json.hpp"
#include "recording/source.hpp"
#include "work/bench_standing.hpp"
#include "work/live_order.hpp"
#include "work/order_documents.hpp"
#include "work/run_recording.hpp"

namespace ebbtide::work {
namespace {

using nlohmann::json;

constexpr const char* aborted_folder = "aborted";

std::string volts(const std::optional<double>& value) {
    return value ? fixed_text(*value, 1) : "";
}

std::string mount_words(const OpenPlace& place) {
    return fmt::format(
        "Mount {}{}{}{}. Earth it, neutralise it, close the door.", place.key.specimen,
        place.key.face.empty() ? "" : ", ", place.key.face,
        place.key.conditions.empty() ? "" : fmt::format(", conditions {}", place.key.conditions));
}

std::string causes_of(const std::vector<plan::Flag>& flags) {
    std::string text;
    for (const plan::Flag& flag : flags)
        if (flag.consequence == plan::Consequence::void_run)
            text += fmt::format("{}{}", text.empty() ? "" : " ", flag.message);
    return text;
}

/// One session at the bench: from making it safe to the end of the plan, or of patience.
class Session {
  public:
    Session(bench::Bench& bench, const DriveRequest& request, const Person& person, const DriveSinks& sinks,
            const record::OrderRecord& documents, plan::Bench about, std::unique_ptr<LiveOrder> live)
        : request_(request),
          person_(person),
          sinks_(sinks),
          documents_(documents),
          about_(std::move(about)),
          live_(std::move(live)),
          guarded_(
              bench, *about_.drive, scales_of(about_),
              {[this](const bench::Happening& one) { heard(one); }, [this] { return must_stop(); },
               [this](const bench::Observation& seen, const bench::RunState& state) { keep(seen, state); }}) {
    }

    Result<DriveAnswer> run(std::vector<OpenPlace> places) {
        answer_.order = documents_.order.id;
        answer_.open_before = answer_.open_after = places.size();
        if (!request_.dry_run) {
            auto log = DriveLog::open(path(drive_log_name));
            if (!log) return log.error();
            log_ = std::move(log).value();
        }
        line("session", {{"order", documents_.order.id},
                         {"revision", documents_.order.revision},
                         {"bench", about_.id},
                         {"bench_revision", about_.revision},
                         {"by", request_.who},
                         {"sequence", name_of(request_.sequence)},
                         {"seed", request_.seed},
                         {"open", places.size()},
                         {"dry_run", request_.dry_run}});
        keep_leftovers();

        // Before anything else, before any question: what may still be live from before.
        const bench::Found found = guarded_.make_safe();
        answer_.found_on = found.output_was_on;
        if (!found.at_rest) return ended("The bench could not be shown to be at rest.", found.may_be_live);
        if (places.empty()) return ended("", "");
        if (const auto wrong = standing()) return *wrong;
        if (!setup_done()) return ended("The set-up was not confirmed.", "");
        say(fmt::format("{} {} to record, sequence {}.", places.size(), places.size() == 1 ? "run" : "runs",
                        name_of(request_.sequence)));

        for (std::size_t i = 0; i < places.size() && answer_.ended.empty(); ++i) {
            if (must_stop()) return ended("Stopped by a person.", "");
            if (const auto wrong = drive_place(places, i)) return *wrong;
        }
        return ended(answer_.ended, answer_.may_be_live);
    }

  private:
    /// One place of the plan, as often as the person wants to try. Error: it cannot be written.
    std::optional<Error> drive_place(const std::vector<OpenPlace>& places, std::size_t i) {
        OpenPlace place = places[i];
        bool mount = place.mount || skipped_mounting_;
        skipped_mounting_ = false;
        for (;;) {
            if (mount) {
                const Answer answer = ask({Question::Kind::mount, mount_words(place), place.key});
                if (answer == Answer::stop) return stopped();
                if (answer == Answer::skip) {
                    skipped_mounting_ = true;
                    return {};
                }
                // The bench's clock may have run on while the person was busy.
                static_cast<void>(guarded_.rest(about_.drive->look_s));
                neutralised_s_ = guarded_.now_s();
                unattended_ = 0;
            } else {
                if (!guarded_.rest(about_.drive->rest_s)) return no_rest();
                const bool pause = person_.pause && person_.pause();
                if (pause || unattended_ >= about_.drive->unattended_replicates) {
                    const Answer answer =
                        ask({Question::Kind::leave,
                             pause ? std::string("Paused: output off, clamps earthed.")
                                   : fmt::format("{} runs went without a person. Look at the bench.",
                                                 unattended_),
                             {}});
                    if (answer != Answer::done) return stopped();
                    unattended_ = 0;
                }
            }
            place.aim.neutralised_s = neutralised_s_;
            DrivenRun run = one_run(place);
            if (write_fault_) return write_fault_;
            ++unattended_;
            const bool fills = run.kept && run.kept->counts, recorded = run.recorded;
            if (fills) --answer_.open_after;
            const std::string words = run.words;
            if (sinks_.run) sinks_.run(run);
            answer_.runs.push_back(std::move(run));
            if (fills || (recorded && request_.dry_run)) return {};
            if (person_stopped_) return stopped();
            if (!link_) {
                answer_.ended = words;
                return {};
            }
            const Answer answer = ask({Question::Kind::look, words + " Try this run again?", place.key});
            if (answer == Answer::stop) return stopped();
            if (!recorded) {
                const bench::Found found = guarded_.make_safe();
                if (!found.at_rest) {
                    answer_.ended = "The bench could not be shown to be at rest.";
                    answer_.may_be_live = found.may_be_live;
                    return {};
                }
            }
            // Whoever looked may have touched the specimen: it is mounted and neutralised anew.
            if (answer == Answer::skip) {
                skipped_mounting_ = true;
                return {};
            }
            mount = true;
        }
    }

    std::optional<Error> stopped() {
        answer_.ended = "Stopped by a person.";
        return {};
    }
    std::optional<Error> no_rest() {
        answer_.ended = person_stopped_ ? "Stopped by a person."
                                        : fmt::format("The bench went wrong between two runs: {}.",
                                                      bench::words_of(guarded_.state().ended_by));
        return {};
    }

    DrivenRun one_run(const OpenPlace& place) {
        DrivenRun run;
        run.key = place.key;
        line("run", {{"what", "begins"}, {"label", place.key.label()}});
        if (!request_.dry_run) {
            auto recording = RunRecording::create(path(free_name()), about_, request_.began,
                                                  {{"order", documents_.order.id},
                                                   {"place", place.key.label()},
                                                   {"bench", about_.id + " " + about_.revision},
                                                   {"driven by", request_.who}});
            if (!recording) {
                write_fault_ = recording.error();
                return run;
            }
            recording_ = std::make_unique<RunRecording>(std::move(recording).value());
        }
        const bench::Driven driven = guarded_.run(place.aim);
        link_ = driven.recorded || driven.ended_by != bench::Event::link_lost;
        answer_.may_be_live = driven.may_be_live;
        run.recorded = driven.recorded;
        run.words = driven.words();
        run.zero_V = driven.state.zero.mean();
        run.residual_V = driven.state.residual_V();
        if (driven.state.released_s) run.held_V = driven.state.held_V;
        run.accepted = driven.accepted;
        run.level_reached = driven.level_reached;
        if (recording_) keep_run(place, run);
        line("run", {{"what", run.recorded ? "recorded" : "aborted"},
                     {"label", place.key.label()},
                     {"file", run.file},
                     {"zero_V", record::or_null(run.zero_V)},
                     {"residual_V", record::or_null(run.residual_V)},
                     {"held_V", record::or_null(run.held_V)},
                     {"accepted", run.accepted},
                     {"level_reached", run.level_reached},
                     {"temperature_C", record::or_null(temperature_C_)},
                     {"relative_humidity_percent", record::or_null(relative_humidity_percent_)},
                     {"words", run.words}});
        log_.sync();
        return run;
    }

    /// What was recorded of a run goes to its place of the plan, or is kept as what does not count.
    void keep_run(const OpenPlace& place, DrivenRun& run) {
        const std::unique_ptr<RunRecording> recording = std::move(recording_);
        if (write_fault_) return;
        std::error_code ignored;
        if (recording->samples() == 0) {
            std::filesystem::remove(recording->path() + unfinished, ignored);
            return;
        }
        const auto finished = recording->finish({{"zero V", volts(run.zero_V)},
                                                 {"residual V", volts(run.residual_V)},
                                                 {"ended", run.recorded ? "recorded" : run.words}});
        if (!finished) {
            write_fault_ = finished.error();
            return;
        }
        run.file = std::filesystem::relative(recording->path(), request_.order, ignored).string();
        if (!run.recorded) return;
        auto kept = lay_on_plan(place, recording->path());
        if (!kept) {
            write_fault_ = kept.error();
            return;
        }
        run.kept = std::move(kept).value();
        if (!run.kept) {
            run.words = "No fall from a charge was found in what was recorded.";
            return;
        }
        run.file = run.kept->file;
        if (!run.kept->counts) run.words = "The run does not count. " + causes_of(run.kept->run.flags);
        // The run itself is on the disk now, and so is its place.
        std::filesystem::remove(recording->path(), ignored);
    }

    /// Measured and cut as any recording is; of several that were cut the highest is the run.
    Result<std::optional<RunRecorded>> lay_on_plan(const OpenPlace& place, const std::string& file) {
        recording::ReadOptions read;
        live_->name_channels(read);
        auto source = recording::open(file, read);
        if (!source) return source.error();
        MeasureRequest request = live_->measure_request();
        // Judging asks for these; nobody waits for them here.
        request.laws.reset();
        request.monte_carlo = false;
        std::vector<recording::Block> blocks;
        auto measured = measure(**source, request, {}, [&](const recording::Block& block) -> Result<Done> {
            blocks.push_back(block);
            return Done{};
        });
        if (!measured) return measured.error();
        if (measured->runs.empty() || blocks.size() != measured->runs.size())
            return std::optional<RunRecorded>();
        std::size_t run = 0;
        for (std::size_t i = 1; i < blocks.size(); ++i)
            if (blocks[i].run && blocks[run].run && blocks[i].run->span.height > blocks[run].run->span.height)
                run = i;
        const auto container = run_container((*source)->description(), blocks[run]);
        if (!container) return container.error();
        if (const auto chosen = live_->choose(place.place); !chosen) return chosen.error();
        return live_->keep(measured->runs[run], *container, "driven: " + about_.id, now());
    }

    /// Where a run is written while it goes on. It stays there when it does not come to a run of the plan.
    std::string free_name() const {
        std::error_code none;
        for (int number = 1;; ++number) {
            std::string name =
                fmt::format("{}/drive-{}-{}.ebbrec", aborted_folder, name_text(request_.began), number);
            if (!std::filesystem::exists(path(name), none) &&
                !std::filesystem::exists(path(name) + unfinished, none))
                return name;
        }
    }

    /// What a session before was writing when it was killed.
    void keep_leftovers() {
        if (request_.dry_run) return;
        const auto names = names_in(path(aborted_folder));
        if (!names) return;
        for (const std::string& name : *names) {
            if (!name.ends_with(unfinished)) continue;
            const std::string part = path(aborted_folder) + "/" + name;
            const std::string whole = part.substr(0, part.size() - std::string_view(unfinished).size());
            if (!give_file_name(part, whole)) continue;
            const std::string kept = std::filesystem::path(whole).filename().string();
            say(fmt::format("A run was broken off; what there is of it is kept as {}/{}.", aborted_folder,
                            kept));
            line("run", {{"what", "broken off"}, {"file", std::string(aborted_folder) + "/" + kept}});
        }
    }

    /// Error: no good bench check, and nobody who answers for it.
    std::optional<Error> standing() {
        if (!about_.check || request_.dry_run) return {};
        const auto checks = bench_checks_in(checks_place(), about_);
        if (!checks) return checks.error();
        const Instant at = now();
        const std::string reason = judge::reason_not_to_start(*checks, *about_.check, at);
        if (reason.empty()) return copy_checks(*checks);
        if (request_.override_.empty())
            return Error{Fault::bad_input, reason, about_.id,
                         "Make an opening check ('ebbtide check'), or let a named person answer for it: "
                         "--who INITIALS --override REASON"};
        if (request_.who.empty())
            return Error{Fault::bad_input, "the override names nobody", "--override",
                         "Say who answers for it: --who INITIALS"};
        const auto written = write_check_file(request_.order, fmt::format("override-{}.json", name_text(at)),
                                              override_text(about_, at, request_.who, request_.override_));
        if (!written) return written.error();
        say(fmt::format("Work starts although {}. {}: {}.", reason, request_.who, request_.override_));
        line("override", {{"by", request_.who}, {"reason", request_.override_}, {"words", reason}});
        return copy_checks(*checks);
    }

    /// A bench may lie beside many orders; an order keeps the checks that it rests on.
    std::optional<Error> copy_checks(const std::vector<plan::BenchCheck>& checks) const {
        std::error_code none;
        for (const plan::BenchCheck& check : checks) {
            const std::string from = checks_place() + "/" + check.file, to = path(check.file);
            if (std::filesystem::exists(to, none)) continue;
            auto text = read_whole(from, std::uint64_t{1} << 20);
            if (!text) return text.error();
            const auto written = write_check_file(
                request_.order, std::filesystem::path(check.file).filename().string(), *text);
            if (!written) return written.error();
        }
        return {};
    }

    /// The laboratory's list, once a day.
    bool setup_done() {
        if (about_.setup.empty()) return true;
        const Instant at = now();
        const std::string name = fmt::format("setup-{}.json", iso_text(date_of(at)));
        std::error_code none;
        if (!request_.dry_run &&
            std::filesystem::exists(checks_place() + "/" + checks_folder + "/" + name, none))
            return true;
        json confirmed = json::array();
        for (const std::string& text : about_.setup) {
            if (ask({Question::Kind::setup, text, {}}) != Answer::done) return false;
            confirmed.push_back(text);
        }
        if (request_.dry_run) return true;
        const auto written = write_check_file(checks_place(), name,
                                              record::canonical_text({{"schema", "ebbtide.setup/1"},
                                                                      {"bench", about_.id},
                                                                      {"bench_revision", about_.revision},
                                                                      {"confirmed", iso_text(now())},
                                                                      {"by", request_.who},
                                                                      {"lines", std::move(confirmed)}}));
        return written.ok();
    }

    Answer ask(const Question& question) {
        line("prompt", {{"prompt", name_of(question.kind)}, {"words", question.words}});
        const Answer answer = person_.ask(question);
        constexpr const char* names[] = {"done", "skip", "stop"};
        line("answer", {{"prompt", name_of(question.kind)},
                        {"answer", names[static_cast<std::size_t>(answer)]},
                        {"by", request_.who}});
        return answer;
    }

    void heard(const bench::Happening& happening) {
        const json one = line_of(happening, request_.began);
        log_.add(one);
        if (sinks_.line) sinks_.line(one);
        if (sinks_.happening) sinks_.happening(happening);
    }

    void line(const char* kind, json about) {
        about["schema"] = "ebbtide.drive/1";
        about["at"] = iso_text(now());
        about["bench_s"] = guarded_.now_s();
        about["kind"] = kind;
        log_.add(about);
        if (sinks_.line) sinks_.line(about);
    }

    void say(const std::string& words) const {
        if (sinks_.say) sinks_.say(words);
    }

    void keep(const bench::Observation& seen, const bench::RunState& state) {
        if (sinks_.samples) sinks_.samples(seen, state);
        temperature_C_ = seen.temperature_C;
        relative_humidity_percent_ = seen.relative_humidity_percent;
        if (!recording_ || write_fault_) return;
        if (const auto added = recording_->add(seen); !added) write_fault_ = added.error();
    }

    /// A disk that takes no more samples, or no more of the log, ends the run: nothing goes on unrecorded.
    bool must_stop() {
        if (person_.stop && person_.stop()) person_stopped_ = true;
        return person_stopped_ || write_fault_ || log_.fault();
    }

    Result<DriveAnswer> ended(std::string why, std::string live) {
        if (log_.fault()) return *log_.fault();
        answer_.ended = std::move(why);
        answer_.may_be_live = std::move(live);
        if (answer_.ended.empty() && answer_.open_after > 0) answer_.ended = "Places were left open.";
        json last = json_of(answer_);
        last.erase("schema");
        last.erase("kind");
        line("end", std::move(last));
        log_.sync();
        return std::move(answer_);
    }

    [[nodiscard]] Instant now() const { return request_.began + Span::from_seconds(guarded_.now_s()); }
    [[nodiscard]] std::string path(const std::string& name) const { return request_.order + "/" + name; }
    /// The folder that holds the bench file: its checks lie there.
    [[nodiscard]] std::string checks_place() const {
        const std::string file =
            request_.bench_file.empty() ? path(documents_.order.bench_file) : request_.bench_file;
        const auto folder = std::filesystem::path(file).parent_path();
        return folder.empty() ? "." : folder.string();
    }

    const DriveRequest& request_;
    const Person& person_;
    const DriveSinks& sinks_;
    const record::OrderRecord& documents_;
    plan::Bench about_;
    std::unique_ptr<LiveOrder> live_;  ///< none in a dry run
    DriveLog log_;
    DriveAnswer answer_;
    std::unique_ptr<RunRecording> recording_;
    std::optional<Error> write_fault_;
    bool person_stopped_ = false, link_ = true, skipped_mounting_ = false;
    std::optional<double> neutralised_s_;
    std::optional<double> temperature_C_, relative_humidity_percent_;  ///< as last read during a run
    int unattended_ = 0;
    bench::GuardedBench guarded_;  ///< last: it tells of its own end
};

}  // namespace

std::string_view name_of(Question::Kind kind) {
    switch (kind) {
        case Question::Kind::setup:
            return "setup";
        case Question::Kind::mount:
            return "mount";
        case Question::Kind::leave:
            return "leave";
        case Question::Kind::look:
            return "look";
    }
    return "";
}

bench::Scales scales_of(const plan::Bench& bench) {
    return {bench.sensor.scale, bench.electrode};
}

Result<plan::Bench> bench_to_drive(const std::string& bench_file, const std::optional<plan::Bench>& own) {
    plan::Bench bench;
    if (bench_file.empty()) {
        if (!own)
            return Error{Fault::bad_input, "the order names no bench", "order.toml",
                         "Name it in the order, or say --bench FILE"};
        bench = *own;
    } else {
        const auto text = read_whole(bench_file, std::uint64_t{4} << 20);
        if (!text) return text.error();
        auto parsed = paperwork::parse_bench(*text, bench_file);
        if (!parsed) return parsed.error();
        bench = std::move(parsed).value();
        if (own && (own->id != bench.id || own->revision != bench.revision))
            return Error{
                Fault::bad_input,
                fmt::format("is bench '{}', revision '{}'; the order is tested on '{}', revision '{}'",
                            bench.id, bench.revision, own->id, own->revision),
                bench_file, "Bring the order's bench file up to date, or drive the other bench"};
    }
    if (!bench.drive)
        return Error{Fault::bad_input,
                     "the bench file has no table [drive]: how it may be driven is not known",
                     bench_file.empty() ? bench.id : bench_file, "docs/formats/bench.md explains the table"};
    return bench;
}

Result<record::OrderRecord> documents_to_drive(const std::string& folder) {
    auto files = folder_files(folder);
    const auto text = files->text("order.toml");
    if (!text) return text.error();
    const auto order = paperwork::parse_order(*text, "order.toml");
    if (!order) return order.error();
    if (order->live_file.empty())
        return Error{Fault::bad_input, "the order names no file for runs that are recorded live",
                     folder + "/order.toml", "Write near its top: live = \"live.toml\""};
    std::error_code none;
    if (!std::filesystem::exists(folder + "/" + order->live_file, none))
        files = with_file(std::move(files), order->live_file,
                          fmt::format("schema = \"ebbtide.live/1\"\norder = {}\n", json(order->id).dump()));
    record::OrderRecord documents;
    const auto read = read_documents(*files, {}, documents);
    if (!read) return read.error();
    return documents;
}

Result<DriveAnswer> drive(bench::Bench& bench, const DriveRequest& request, const Person& person,
                          const DriveSinks& sinks) {
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
    // A dry run writes nothing: of an order that was never worked on live every place is open.
    if (request.dry_run && !std::filesystem::exists(request.order + "/" + documents.order.live_file, none)) {
        const std::string conditions = !request.conditions.empty() || documents.order.conditions.empty()
                                           ? request.conditions
                                           : documents.order.conditions.front().id;
        plan = places_of_plan(documents.order, documents.method, conditions);
    } else {
        auto opened = LiveOrder::open({request.order, request.conditions, request.ledger, request.began});
        if (!opened) return refuse(opened.error());
        live = std::move(opened).value();
        plan = live->places();
    }
    auto places = open_places(plan, documents.method, *about, request.sequence, request.seed);
    if (!places) return refuse(places.error());
    Session session(bench, request, person, sinks, documents, std::move(about).value(), std::move(live));
    return session.run(std::move(places).value());
}

json json_of(const DriveAnswer& answer) {
    std::size_t recorded = 0;
    for (const DrivenRun& run : answer.runs) recorded += run.recorded ? 1 : 0;
    return {{"schema", "ebbtide.drive/1"},
            {"kind", "end"},
            {"order", answer.order},
            {"recorded", recorded},
            {"aborted", answer.runs.size() - recorded},
            {"open", answer.open_after},
            {"found_on", answer.found_on},
            {"done", answer.ended.empty()},
            {"words", answer.ended},
            {"may_be_live", answer.may_be_live}};
}

}  // namespace ebbtide::work
