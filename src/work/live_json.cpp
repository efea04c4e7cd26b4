#include "work/live_json.hpp"

#include "record/json.hpp"

namespace ebbtide::work {
namespace {

using nlohmann::json;

json text_or_null(const std::string& text) {
    return text.empty() ? json() : json(text);
}

json place_json(const std::optional<plan::RunKey>& place) {
    if (!place) return {};
    return {{"specimen", place->specimen},     {"face", place->face},
            {"conditions", place->conditions}, {"polarity", plan::sign_of(place->polarity)},
            {"replicate", place->replicate},   {"label", place->label()}};
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
    void operator()(const RunBegun& event) const {
        out["event"] = "run_begun";
        out["charge_start_s"] = event.charge_start_s;
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
    void operator()(const PhaseEntered& event) const {
        out["event"] = "phase_entered";
        out["phase"] = event.phase;
        out["guards"] = json::array();
        for (const auto& guard : event.guards)
            out["guards"].push_back({{"words", guard.words}, {"met", guard.met}});
    }
    void operator()(const CommandSent& event) const {
        out["event"] = "command_sent";
        out["command"] = event.command;
        out["voltage_V"] = record::or_null(event.voltage_V);
    }
};

}  // namespace

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
    return out;
}

json event_line(const LiveEvent& event) {
    json out = {{"schema", "ebbtide.event/1"}};
    std::visit(Telling{out}, event);
    return out;
}

}  // namespace ebbtide::work
