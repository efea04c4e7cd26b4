// One run: its figures, what it decides, where it comes from, what people noted on it.

#include <algorithm>
#include <filesystem>

#include "ledger/migrations.hpp"
#include "record/json.hpp"
#include "server/fields.hpp"
#include "server/handlers.hpp"
#include "server/order_json.hpp"
#include "work/ledger_pedigree.hpp"
#include "work/notes.hpp"

namespace ebbtide::server {
namespace {

using nlohmann::json;
using record::or_null;
using record::text_or_null;

json flags_json(const std::vector<plan::Flag>& flags) {
    json out = json::array();
    for (const plan::Flag& flag : flags) {
        json one = record::json_of(flag);
        one["meaning"] = plan::facts(flag.code).meaning;
        out.push_back(std::move(one));
    }
    return out;
}

json findings_of(const judge::Judgement& judgement, std::size_t run) {
    json out = json::array();
    for (const judge::RequirementOutcome& outcome : judgement.requirements)
        for (const judge::Finding& finding : outcome.findings)
            if (std::ranges::find(finding.runs, run) != finding.runs.end())
                out.push_back({{"requirement", outcome.requirement.id},
                               {"sentence", plan::sentence(outcome.requirement)},
                               {"group", finding.group},
                               {"outcome", plan::name_of(finding.outcome)},
                               {"reason", finding.reason},
                               {"value_s", or_null(finding.value_s)},
                               {"u_s", or_null(finding.u_s)},
                               {"limit_s", outcome.requirement.limit_s}});
    return out;
}

/// The recording that the run was cut from, and what was planned for it there.
struct RunOrigin {
    json recording, retest_cause, set_aside;
};

RunOrigin origin_of(const record::OrderRecord& record, const std::string& run) {
    RunOrigin out;
    for (std::size_t i = 0; i < record.recordings.size(); ++i) {
        const record::RecordingRecord& recording = record.recordings[i];
        const auto found = std::ranges::find(recording.runs, run);
        if (found == recording.runs.end()) continue;
        json channels = json::array();
        for (const auto& channel : recording.channels) channels.push_back(record::json_of(channel));
        out.recording = {{"file", recording.file},
                         {"sha256", recording.sha256},
                         {"format", recording.format},
                         {"dialect", recording.dialect},
                         {"channels", std::move(channels)}};
        const auto number = static_cast<std::size_t>(found - recording.runs.begin());
        if (i < record.order.recordings.size() && number < record.order.recordings[i].runs.size()) {
            const plan::PlannedRun& planned = record.order.recordings[i].runs[number];
            out.retest_cause = text_or_null(planned.retest_cause);
            out.set_aside = text_or_null(planned.set_aside);
        }
        return out;
    }
    return out;
}

json neighbour(const judge::Judgement& judgement, std::size_t run, int step) {
    for (std::size_t i = run + static_cast<std::size_t>(step); i < judgement.runs.size();
         i += static_cast<std::size_t>(step))
        if (judgement.runs[i].figures && !judgement.runs[i].run_id.empty()) return judgement.runs[i].run_id;
    return {};
}

json notes_json(const std::vector<work::Note>& notes, const std::string& run) {
    json out = json::array();
    for (const work::Note& note : notes)
        if (note.run == run) out.push_back(json::parse(work::note_line(note)));
    return out;
}

}  // namespace

Reply show_run(const Call& call) {
    const auto at = run_named(call);
    if (!at) return at.instead;
    const record::OrderRecord& record = at->order.record();
    const judge::JudgedRun& run = at->run();
    const auto notes = work::notes_in(at->order.at.folder);
    if (!notes) return conflict(notes.error());
    json whole = record::json_of(record.judgement).at("runs").at(at->index);
    const json& law = whole.at("figures").at("law");
    const json sides = law.is_null() ? json() : law.at("sides");
    RunOrigin origin = origin_of(record, run.run_id);
    return json_reply({{"schema", "ebbtide.page-run/1"},
                       {"key", at->order.at.key},
                       {"order", record.order.id},
                       {"run", std::move(whole)},
                       {"flags", flags_json(run.flags)},
                       {"sides", sides},
                       {"findings", findings_of(record.judgement, at->index)},
                       {"recording", std::move(origin.recording)},
                       {"retest_cause", std::move(origin.retest_cause)},
                       {"set_aside", std::move(origin.set_aside)},
                       {"notes", notes_json(*notes, run.run_id).size()},
                       {"before", neighbour(record.judgement, at->index, -1)},
                       {"after", neighbour(record.judgement, at->index, 1)}});
}

Reply run_pedigree(const Call& call) {
    const auto at = run_named(call);
    if (!at) return at.instead;
    const record::OrderRecord& record = at->order.record();
    const std::string level = call.parameter("level");
    json pedigree;
    const char* from = "folder";
    if (!call.desk.ledger.empty()) {
        auto ledger = ledger::open_ledger(call.desk.ledger, ledger::Database::Access::read);
        if (!ledger) return conflict(ledger.error());
        auto kept = work::pedigree(*ledger, {record.order.id + "/" + at->run().run_id, "", {}}, level);
        if (kept) {
            pedigree = std::move(kept).value();
            from = "ledger";
        }
    }
    if (pedigree.is_null()) {
        auto judged = work::pedigree_of_run(record, at->index, level);
        if (!judged) {
            Error error = judged.error();
            error.where = "level";
            return refused(error);
        }
        pedigree = std::move(judged).value();
    }
    json levels = json::array();
    for (const decay::LevelFigure& one : at->run().figures->levels) levels.push_back(one.level.label());
    return json_reply({{"schema", "ebbtide.page-pedigree/1"},
                       {"from", from},
                       {"pedigree", std::move(pedigree)},
                       {"levels", std::move(levels)}});
}

Reply run_notes(const Call& call) {
    const auto at = run_named(call);
    if (!at) return at.instead;
    const auto notes = work::notes_in(at->order.at.folder);
    if (!notes) return conflict(notes.error());
    const std::string& run = at->run().run_id;
    return json_reply({{"schema", "ebbtide.page-notes/1"}, {"run", run}, {"notes", notes_json(*notes, run)}});
}

Reply add_run_note(const Call& call) {
    Fields fields(call.request);
    work::Note note{call.now(), "", fields.text("who"), fields.text("text")};
    if (const auto problem = fields.problem()) return refused(*problem);
    const auto at = run_named(call);
    if (!at) return at.instead;
    note.run = at->run().run_id;
    if (const auto added = work::add_note(at->order.at.folder, note); !added) return refused(added.error());
    return json_reply(json::parse(work::note_line(note)), 201);
}

}  // namespace ebbtide::server
