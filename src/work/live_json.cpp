#include "work/live_json.hpp"

#include "record/json.hpp"

namespace ebbtide::work {
namespace {

using nlohmann::json;
using record::text_or_null;

json place_json(const std::optional<plan::RunKey>& place) {
    if (!place) return {};
    return {{"specimen", place->specimen},     {"face", place->face},
            {"conditions", place->conditions}, {"polarity", plan::sign_of(place->polarity)},
            {"replicate", place->replicate},   {"label", place->label()}};
}

json guards_json(const std::vector<LiveGuard>& guards) {
    json out = json::array();
    for (const LiveGuard& guard : guards)
        out.push_back({{"name", guard.name},
                       {"words", guard.words},
                       {"remedy", text_or_null(guard.remedy)},
                       {"met", guard.met ? json(*guard.met) : json()}});
    return out;
}

json mounted_json(const std::optional<plan::Mounted>& mounted) {
    return mounted ? json(plan::name_of(*mounted)) : json();
}

json question_json(const Question& question) {
    return {{"number", question.number},
            {"kind", name_of(question.kind)},
            {"words", question.words},
            {"place", place_json(question.key)},
            {"mounted", mounted_json(question.mounted)}};
}

const char* kind_word(SessionBegun::Kind kind) {
    return kind == SessionBegun::Kind::order ? "order" : "check";
}

/// Adds what an event is made of to `out`.
struct Telling {
    json& out;

    void operator()(const SourceOpened& event) const {
        out["event"] = "source_opened";
        out["source"] = event.source;
        out["format"] = event.format;
        out["dialect"] = event.dialect;
        out["ceiling"] = text_or_null(event.ceiling);
        out["channels"] = json::array();
        for (const auto& channel : event.channels) out["channels"].push_back(record::json_of(channel));
    }
    void operator()(const Frame& event) const {
        out["event"] = "frame";
        out["from_s"] = event.from_s;
        out["to_s"] = event.to_s;
        out["channels"] = json::array();
        for (const Frame::Channel& channel : event.channels)
            out["channels"].push_back(channel.samples == 0 ? json()
                                                           : json({{"samples", channel.samples},
                                                                   {"lowest", channel.lowest},
                                                                   {"highest", channel.highest},
                                                                   {"mean", channel.mean}}));
    }
    void operator()(const PlanChanged& event) const {
        out["event"] = "plan_changed";
        out["next"] = event.next ? json(*event.next) : json();
        out["reference"] = mounted_json(event.reference);
        out["places"] = json::array();
        for (const PlanPlace& place : event.places) {
            json one = place_json(place.key);
            one["either_polarity"] = place.either_polarity;
            one["runs"] = place.runs;
            one["filled"] = place.filled;
            out["places"].push_back(std::move(one));
        }
    }
    void operator()(const RunBegun& event) const {
        out["event"] = "run_begun";
        out["charge_start_s"] = record::or_null(event.charge_start_s);
        out["place"] = place_json(event.place);
        out["step"] = text_or_null(event.step);
    }
    void operator()(const RunFallen& event) const {
        out["event"] = "run_fallen";
        out["figures"] = record::json_of(event.figures);
    }
    void operator()(const RunRecorded& event) const {
        out = run_line(event);
        out["schema"] = "ebbtide.event/1";
        out["event"] = "run_recorded";
    }
    void operator()(const RunCorrected& event) const {
        out["event"] = "run_corrected";
        out["file"] = event.file;
        out["place"] = place_json(event.place);
        out["set_aside"] = text_or_null(event.set_aside);
        out["retest_cause"] = text_or_null(event.retest_cause);
        out["by"] = text_or_null(event.who);
        out["why"] = text_or_null(event.why);
    }
    void operator()(const NoticeSeen& event) const {
        out["event"] = "notice";
        out["notice"] = record::json_of(event.notice);
    }
    void operator()(const Prompt& event) const {
        out["event"] = "prompt";
        out["text"] = event.text;
    }
    void operator()(const SourceEnded& event) const {
        out["event"] = "source_ended";
        out["reason"] = event.reason;
        out["lost"] = event.lost;
        out["runs"] = event.runs;
        out["bytes"] = event.bytes;
        out["recording"] = text_or_null(event.sha256);
    }
    void operator()(const SessionBegun& event) const {
        const bool order = event.kind == SessionBegun::Kind::order;
        out["event"] = "session_begun";
        out["kind"] = kind_word(event.kind);
        out["order"] = text_or_null(event.order);
        out["revision"] = order ? json(event.revision) : json();
        out["bench"] = event.bench;
        out["bench_revision"] = event.bench_revision;
        out["by"] = text_or_null(event.who);
        out["sequence"] = text_or_null(event.sequence);
        out["seed"] = order ? json(event.seed) : json();
        out["closing"] = event.closing;
        out["heard"] = event.heard;
        out["open"] = event.open;
        out["dry_run"] = event.dry_run;
    }
    void operator()(const BenchFound& event) const {
        out["event"] = "bench_found";
        out["output_was_on"] = event.output_was_on;
        out["words"] = event.words;
    }
    void operator()(const PhaseEntered& event) const {
        out["event"] = "phase_entered";
        out["phase"] = event.phase;
        out["because"] = event.because;
        out["words"] = event.words;
        out["guards"] = guards_json(event.guards);
        out["lasts_s"] = record::or_null(event.lasts_s);
    }
    void operator()(const GuardsChanged& event) const {
        out["event"] = "guards_changed";
        out["phase"] = event.phase;
        out["words"] = event.words;
        out["guards"] = guards_json(event.guards);
    }
    void operator()(const CommandSent& event) const { command("command_sent", event); }
    void operator()(const CommandRefused& event) const { command("command_refused", event); }
    void operator()(const MayBeLive& event) const {
        out["event"] = "may_be_live";
        out["phase"] = event.phase;
        out["words"] = event.words;
    }
    void operator()(const QuestionAsked& event) const {
        out["event"] = "question_asked";
        out["question"] = question_json(event.question);
    }
    void operator()(const QuestionAnswered& event) const {
        out["event"] = "question_answered";
        out["question"] = question_json(event.question);
        out["answer"] = name_of(event.answer);
        out["by"] = text_or_null(event.who);
    }
    void operator()(const CheckOverridden& event) const {
        out["event"] = "check_overridden";
        out["by"] = event.who;
        out["reason"] = event.reason;
        out["words"] = event.words;
    }
    void operator()(const StepRecorded& event) const {
        out["event"] = "step_recorded";
        out["place"] = place_json(event.place);
        out["step"] = text_or_null(event.step);
        out["file"] = text_or_null(event.file);
        out["readings"] = json_of(event.readings);
    }
    void operator()(const RunAborted& event) const {
        out["event"] = "run_aborted";
        out["place"] = place_json(event.place);
        out["step"] = text_or_null(event.step);
        out["file"] = text_or_null(event.file);
        out["words"] = event.words;
        out["readings"] = json_of(event.readings);
    }
    void operator()(const RunBrokenOff& event) const {
        out["event"] = "run_broken_off";
        out["file"] = event.file;
    }
    void operator()(const BenchChecked& event) const {
        out["event"] = "bench_checked";
        out["closing"] = event.closing;
        out["good"] = event.good;
        out["reason"] = text_or_null(event.reason);
        out["figures"] = json::array();
        for (const bench::CheckFigure& figure : event.figures) out["figures"].push_back(json_of(figure));
        out["good_until"] = event.good_until ? json(iso_text(*event.good_until)) : json();
        out["file"] = text_or_null(event.file);
    }
    void operator()(const SessionEnded& event) const {
        out["event"] = "session_ended";
        out["kind"] = kind_word(event.kind);
        out["order"] = text_or_null(event.order);
        out["done"] = event.done;
        out["words"] = text_or_null(event.words);
        out["recorded"] = event.recorded;
        out["aborted"] = event.aborted;
        out["open"] = event.open;
        out["found_on"] = event.found_on;
        out["may_be_live"] = text_or_null(event.may_be_live);
    }

  private:
    void command(const char* name, const auto& event) const {
        out["event"] = name;
        out["phase"] = event.phase;
        out["command"] = event.command;
        out["voltage_V"] = record::or_null(event.voltage_V);
        out["words"] = event.words;
    }
};

}  // namespace

nlohmann::json json_of(const RunReadings& readings) {
    using record::or_null;
    return {{"zero_V", or_null(readings.zero_V)},
            {"residual_V", or_null(readings.residual_V)},
            {"held_V", or_null(readings.held_V)},
            {"accepted", readings.accepted},
            {"level_reached", readings.level_reached},
            {"temperature_C", or_null(readings.temperature_C)},
            {"relative_humidity_percent", or_null(readings.relative_humidity_percent)}};
}

json json_of(const bench::CheckFigure& figure) {
    return {{"name", figure.name},
            {"polarity", figure.polarity ? json(plan::sign_of(*figure.polarity)) : json()},
            {"unit", figure.unit},
            {"value", record::finite_or_null(figure.value)},
            {"least", figure.least},
            {"most", figure.most},
            {"within", figure.within()}};
}

json json_of(const MeasuredRun& run) {
    json out = record::json_of(run.figures);
    out["run"] = run.run_id;
    out["flags"] = json::array();
    for (const plan::Flag& flag : run.flags) out["flags"].push_back(record::json_of(flag));
    return out;
}

json run_line(const RunRecorded& recorded) {
    json out = json_of(recorded.run);
    out["schema"] = "ebbtide.run/1";
    out["recording"] = recorded.recording;
    out["file"] = text_or_null(recorded.file);
    out["place"] = place_json(recorded.place);
    out["retest_cause"] = text_or_null(recorded.retest_cause);
    out["counts"] = recorded.counts;
    out["fails"] = recorded.fails;
    out["in_ledger"] = recorded.in_ledger;
    out["reference"] = mounted_json(recorded.reference);
    out["check"] = json::array();
    for (const bench::CheckFigure& figure : recorded.check) out["check"].push_back(json_of(figure));
    out["readings"] = recorded.readings ? json_of(*recorded.readings) : json();
    out["words"] = text_or_null(recorded.words);
    return out;
}

json event_line(const LiveEvent& event) {
    json out = {{"schema", "ebbtide.event/1"}};
    std::visit(Telling{out}, event);
    std::visit(
        [&](const auto& one) {
            if constexpr (requires { one.bench_s; })
                if (const std::optional<double> bench_s = one.bench_s) out["bench_s"] = *bench_s;
        },
        event);
    return out;
}

}  // namespace ebbtide::work
